#include "client/replica/acts_clutch.h"

#include <algorithm>

#include "client/registry/interval.h"
#include "client/registry/share_due.h"
#include "client/registry/version.h"
#include "client/replica/internal/own_names.h"
#include "client/replica/occasion.h"
#include "client/shares/split.h"

namespace broodpact::replica {
namespace {

// Whether a clutch laid under this loan is shared by its agreement: signed by all, and not lost to
// another promise. A loan that was closed since still has its due.
bool SharesClutches(const registry::Loan& loan) {
  return loan.state == registry::LoanState::kInForce || loan.state == registry::LoanState::kClosed;
}

// The loans of the pairings that may have led to this laying, each once.
absl::StatusOr<std::vector<registry::Loan>> LoansOfInterval(const Replica& replica,
                                                            const registry::Animal& female,
                                                            const DaySpan& laying) {
  std::vector<registry::Loan> loans;
  for (const PairingId& id : female.pairings) {
    BP_ASSIGN_OR_RETURN(const registry::Pairing pairing,
                        Known<registry::Pairing>(replica, id, "pairing"));
    if (pairing.loan.empty()) continue;
    if (registry::PossibleSires(female, laying, {pairing}).empty()) continue;
    const auto is_listed = [&](const registry::Loan& loan) { return loan.id == pairing.loan; };
    if (std::any_of(loans.begin(), loans.end(), is_listed)) continue;
    BP_ASSIGN_OR_RETURN(registry::Loan loan, Known<registry::Loan>(replica, pairing.loan, "loan"));
    if (SharesClutches(loan)) loans.push_back(std::move(loan));
  }
  return loans;
}

std::string NameOf(const registry::Loan& loan) {
  return loan.name.empty() ? ToShortText(loan.id) : loan.name;
}

// Who gets what of what is not shared out yet, and what carries over into it, by the terms of the
// clutch's loan; the lots have no ids yet.
absl::StatusOr<facts::SplitRecord> SplitByTerms(const Replica& replica,
                                                const registry::Clutch& clutch) {
  facts::SplitRecord record{.clutch = clutch.id};
  registry::SeatsDue due;
  if (clutch.loan.empty()) {
    due = registry::DueWithoutTerms(clutch);
  } else {
    BP_ASSIGN_OR_RETURN(const registry::Loan loan,
                        Known<registry::Loan>(replica, clutch.loan, "loan"));
    const registry::AgreedVersion version =
        registry::VersionOf(loan, clutch.agreement).value_or(registry::AgreedVersion{});
    BP_ASSIGN_OR_RETURN(const facts::Agreement agreement, facts::ParseAgreement(version.agreement));
    BP_ASSIGN_OR_RETURN(const shares::Occasion occasion,
                        OccasionOf(replica.view(), clutch, agreement.terms));
    const auto slings = static_cast<std::uint32_t>(registry::SlingsToShare(clutch));
    BP_ASSIGN_OR_RETURN(const shares::Split split,
                        shares::SplitOf(agreement.terms, slings, occasion));
    due = registry::DueByTerms(clutch, agreement.terms, split);
    record.carried_slings = occasion.carried_slings;
  }
  for (std::size_t i = 0; i < due.seats.size(); ++i) {
    record.shares.push_back({.keeper = due.seats[i].receiver, .slings = due.slings[i], .lot = {}});
  }
  return record;
}

}  // namespace

absl::StatusOr<Made<PairingId>> RecordPairing(Replica& replica, facts::Pairing pairing) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, pairing.day));
  BP_ASSIGN_OR_RETURN(const auto male, Known<registry::Animal>(replica, pairing.male, "animal"));
  BP_ASSIGN_OR_RETURN(const auto female,
                      Known<registry::Animal>(replica, pairing.female, "animal"));
  if (male.group != female.group && !pairing.hybrid_intended) {
    return Fail(absl::StatusCode::kFailedPrecondition, "HYBRID_UNINTENDED",
                fmt::format("{} and {} are of different groups: their offspring would be hybrids, "
                            "and marked for ever; say --hybrid if that is meant",
                            male.name, female.name));
  }
  pairing.pairing = device::FreshId<PairingId>(replica.randomness());
  const PairingId id = pairing.pairing;
  return ActMaking(replica, id, pairing);
}

absl::StatusOr<std::optional<LoanId>> LoanOfLaying(const Replica& replica, const AnimalId& female,
                                                   const DaySpan& laying) {
  BP_ASSIGN_OR_RETURN(const registry::Animal mother,
                      Known<registry::Animal>(replica, female, "animal"));
  BP_ASSIGN_OR_RETURN(const std::vector<registry::Loan> loans,
                      LoansOfInterval(replica, mother, laying));
  if (loans.empty()) return std::optional<LoanId>();
  if (loans.size() == 1) return std::optional<LoanId>(loans.front().id);
  std::string names;
  for (const registry::Loan& loan : loans) {
    names += fmt::format("{}{}", names.empty() ? "" : ", ", NameOf(loan));
  }
  return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_LOAN",
              fmt::format("{} was paired under several loans ({}); say which one shares this sac",
                          mother.name, names));
}

absl::StatusOr<Made<ClutchId>> RecordSac(Replica& replica, facts::SacLaying laying) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, laying.day));
  BP_RETURN_IF_ERROR(CheckClutchNameFree(replica, laying.name));
  laying.clutch = device::FreshId<ClutchId>(replica.randomness());
  const ClutchId id = laying.clutch;
  return ActMaking(replica, id, std::move(laying));
}

absl::StatusOr<Acted> PullSac(Replica& replica, const facts::SacPulling& pulling) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, pulling.day));
  return replica.Act({pulling});
}

absl::StatusOr<Acted> LoseSac(Replica& replica, const facts::SacLoss& loss) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, loss.day));
  return replica.Act({loss});
}

absl::StatusOr<Acted> RecordCount(Replica& replica, const facts::Count& count) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, count.day));
  return replica.Act({count});
}

absl::StatusOr<std::optional<registry::CountRecord>> StandingCount(const Replica& replica,
                                                                   const ClutchId& clutch) {
  BP_ASSIGN_OR_RETURN(const registry::Clutch known,
                      Known<registry::Clutch>(replica, clutch, "clutch"));
  std::optional<registry::CountRecord> standing;
  for (const registry::CountRecord& count : known.counts) {
    if (count.state == registry::CountState::kStanding) standing = count;
  }
  return standing;
}

absl::StatusOr<Acted> RecordSplit(Replica& replica, const ClutchId& clutch) {
  BP_ASSIGN_OR_RETURN(const registry::Clutch known,
                      Known<registry::Clutch>(replica, clutch, "clutch"));
  BP_ASSIGN_OR_RETURN(const std::optional<registry::CountRecord> count,
                      StandingCount(replica, clutch));
  if (!count) {
    return Fail(absl::StatusCode::kFailedPrecondition, "CLUTCH_NOT_COUNTED",
                fmt::format("clutch {} has not been counted; count it first",
                            known.name.empty() ? ToShortText(clutch) : known.name));
  }
  BP_ASSIGN_OR_RETURN(facts::SplitRecord record, SplitByTerms(replica, known));
  record.count_token = count->token;
  for (facts::SplitShare& share : record.shares) {
    if (share.slings > 0) share.lot = device::FreshId<LotId>(replica.randomness());
  }
  return replica.Act({std::move(record)});
}

absl::StatusOr<Acted> HatchLate(Replica& replica, const facts::LateHatching& hatching) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, hatching.day));
  return replica.Act({hatching});
}

absl::StatusOr<Acted> WaiveShare(Replica& replica, const facts::ShareWaiver& waiver) {
  return replica.Act({waiver});
}

absl::StatusOr<Acted> ReturnSlings(Replica& replica, const facts::LotReturn& back) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, back.day));
  return replica.Act({back});
}

absl::StatusOr<Made<LotId>> PassSlings(Replica& replica, facts::LotPassing passing) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, passing.day));
  passing.new_lot = device::FreshId<LotId>(replica.randomness());
  const LotId id = passing.new_lot;
  return ActMaking(replica, id, passing);
}

absl::StatusOr<Made<LotId>> DivideLot(Replica& replica, facts::LotDivision division) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, division.day));
  division.new_lot = device::FreshId<LotId>(replica.randomness());
  const LotId id = division.new_lot;
  return ActMaking(replica, id, division);
}

absl::StatusOr<Acted> MergeLots(Replica& replica, const facts::LotMerging& merging) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, merging.day));
  return replica.Act({merging});
}

absl::StatusOr<Made<LotId>> SendSlings(Replica& replica, facts::LotDispatch dispatch) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, dispatch.day));
  dispatch.parcel = device::FreshId<LotId>(replica.randomness());
  const LotId id = dispatch.parcel;
  return ActMaking(replica, id, dispatch);
}

absl::StatusOr<Acted> ReceiveSlings(Replica& replica, const facts::LotReceipt& receipt) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, receipt.day));
  return replica.Act({receipt});
}

absl::StatusOr<Acted> LoseSlings(Replica& replica, const facts::LotLoss& loss) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, loss.day));
  return replica.Act({loss});
}

absl::StatusOr<Made<AnimalId>> RaiseSling(Replica& replica, facts::LotRaising raising) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, raising.day));
  raising.animal = device::FreshId<AnimalId>(replica.randomness());
  const AnimalId id = raising.animal;
  return ActMaking(replica, id, std::move(raising));
}

}  // namespace broodpact::replica
