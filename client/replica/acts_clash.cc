#include "client/replica/acts_clash.h"

#include <algorithm>

#include "client/replica/internal/mating.h"

namespace broodpact::replica {
namespace {

// The digests of the agreements whose dues were disclosed with her.
absl::StatusOr<std::vector<Hash>> DigestsOf(const Replica& replica, const registry::Animal& female,
                                            const std::vector<LoanId>& loans) {
  std::vector<Hash> digests;
  for (const LoanId& id : loans) {
    BP_ASSIGN_OR_RETURN(const registry::Loan loan, Known<registry::Loan>(replica, id, "loan"));
    digests.push_back(registry::VersionOfDue(female, loan));
  }
  return digests;
}

absl::Status NotOffered() {
  return Fail(absl::StatusCode::kFailedPrecondition, "NOT_OFFERED",
              "nobody offers it; `broodpact owed` lists what waits for you");
}

}  // namespace

absl::StatusOr<Acted> ObjectTo(Replica& replica, const facts::Objection& objection) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, objection.day));
  return replica.Act({objection});
}

absl::StatusOr<Acted> WithdrawClash(Replica& replica, const ClashId& clash,
                                    const std::string& reason) {
  return replica.Act({facts::ClashWithdrawal{.clash = clash, .reason = reason}});
}

absl::StatusOr<Acted> SettleClash(Replica& replica, facts::ClashSettlement settlement) {
  for (facts::SplitShare& share : settlement.shares) {
    if (share.slings > 0) share.lot = device::FreshId<LotId>(replica.randomness());
  }
  for (facts::LotMove& move : settlement.moves) {
    move.new_lot = device::FreshId<LotId>(replica.randomness());
  }
  return replica.Act({std::move(settlement)});
}

absl::StatusOr<Acted> SignSettlement(Replica& replica, const ClashId& id, Token settlement) {
  BP_ASSIGN_OR_RETURN(const registry::Clash clash, Known<registry::Clash>(replica, id, "clash"));
  if (settlement.empty() && clash.settlements.empty()) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NOTHING_TO_SIGN",
                "nobody has proposed a settlement yet; `broodpact clash settle` proposes one");
  }
  if (settlement.empty()) settlement = clash.settlements.back().token;
  return replica.Act({facts::ClashSignature{.clash = id, .settlement = settlement}});
}

absl::StatusOr<std::vector<LoanId>> DuesRunningWith(const Replica& replica,
                                                    const AnimalId& animal) {
  BP_ASSIGN_OR_RETURN(const registry::Animal known,
                      Known<registry::Animal>(replica, animal, "animal"));
  BP_ASSIGN_OR_RETURN(const registry::Mating mating, MatingOf(replica.view(), known));
  return registry::DuesOf(known, mating);
}

absl::StatusOr<Acted> GiveSac(Replica& replica, facts::SacGift gift) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, gift.day));
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch,
                      Known<registry::Clutch>(replica, gift.clutch, "clutch"));
  gift.due_loan = clutch.loan;
  return replica.Act({gift});
}

absl::StatusOr<Acted> AcceptAnimal(Replica& replica, const AnimalId& id) {
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      Known<registry::Animal>(replica, id, "animal"));
  if (!animal.offer) return NotOffered();
  facts::DueAcceptance acceptance{
      .animal = id, .clutch = {}, .offer = animal.offer->token, .agreement_digests = {}};
  BP_ASSIGN_OR_RETURN(acceptance.agreement_digests,
                      DigestsOf(replica, animal, animal.offer->loans));
  return replica.Act({acceptance});
}

absl::StatusOr<Acted> AcceptSac(Replica& replica, const ClutchId& id) {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch,
                      Known<registry::Clutch>(replica, id, "clutch"));
  if (!clutch.offer) return NotOffered();
  facts::DueAcceptance acceptance{
      .animal = {}, .clutch = id, .offer = clutch.offer->token, .agreement_digests = {}};
  if (!clutch.loan.empty()) acceptance.agreement_digests.push_back(clutch.agreement);
  return replica.Act({acceptance});
}

absl::StatusOr<Acted> NameSuccessor(Replica& replica, const facts::Succession& succession) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, succession.day));
  return replica.Act({succession});
}

}  // namespace broodpact::replica
