#include "client/facts/internal/terms.h"

#include <vector>

#include "client/base/status.h"

namespace broodpact::facts::internal {
namespace {

template <typename Enum>
absl::Status TakeEnum(std::string_view what, int value, Enum last, Enum& out) {
  if (value < 0 || value > static_cast<int>(last)) {
    return FormFault(fmt::format("the {} has a value that this version does not know", what));
  }
  out = static_cast<Enum>(value);
  return absl::OkStatus();
}

// An id that may be left out.
absl::Status TakeKeeper(std::string_view what, const std::string& bytes, KeeperId& keeper) {
  return bytes.empty() ? absl::OkStatus() : TakeFixed(what, bytes, keeper.bytes);
}

absl::StatusOr<Party> TakeParty(const v1::Party& from, Naming naming) {
  Party party;
  switch (naming) {
    case Naming::kKeepers:
      BP_RETURN_IF_ERROR(TakeFixed("id of a party", from.keeper_id(), party.keeper.bytes));
      break;
    case Naming::kRoles:
      if (!from.keeper_id().empty()) return FormFault("a form names roles, and no keepers");
      break;
  }
  BP_RETURN_IF_ERROR(
      TakeEnum("role of a party", from.role(), PartyRole::kEarlierLender, party.role));
  return party;
}

PriorClaim TakeClaim(const v1::PriorClaim& from) {
  const bool by_part = from.has_basis_points();
  return {.party = from.party(),
          .kind = by_part ? ClaimKind::kBasisPoints : ClaimKind::kSlings,
          .amount = by_part ? from.basis_points() : from.slings(),
          .slings_counted_min = from.slings_counted_min(),
          .slings_max = from.slings_max(),
          .slings_min = from.slings_min(),
          .sacs_max = from.sacs_max()};
}

template <typename List>
std::vector<RatioShare> TakeShares(const List& from) {
  std::vector<RatioShare> shares;
  for (const v1::RatioShare& share : from) {
    shares.push_back({.party = share.party(), .weight = share.weight()});
  }
  return shares;
}

absl::Status TakeSlings(const v1::Terms& from, Terms& terms) {
  for (const v1::PriorClaim& claim : from.prior_claims()) {
    terms.prior_claims.push_back(TakeClaim(claim));
  }
  terms.shares = TakeShares(from.shares());
  for (const v1::LaterShares& later : from.later_shares()) {
    terms.later_shares.push_back(
        {.first_sac = later.first_sac(), .shares = TakeShares(later.shares())});
  }
  if (from.small_clutch_below() > 0) {
    terms.small_clutch = {.below = from.small_clutch_below(), .party = from.small_clutch_party()};
  } else if (from.small_clutch_party() > 0) {
    return FormFault("it names a party for a small clutch, and not how small");
  }
  // Largest remainder has two names: it is what holds where nothing is said.
  const int method = from.method() == v1::APPORTIONMENT_METHOD_UNSPECIFIED
                         ? v1::APPORTIONMENT_METHOD_LARGEST_REMAINDER
                         : from.method();
  BP_RETURN_IF_ERROR(TakeEnum("method of the shares", method - 1, Method::kHuntingtonHill,
                              terms.apportioning.method));
  BP_RETURN_IF_ERROR(TakeEnum("carry", from.carry(), Carry::kChairman, terms.apportioning.carry));
  return TakeEnum("rule for several males", from.sire_rule(), SireRule::kPairings,
                  terms.apportioning.sires);
}

absl::Status TakeCoverage(const v1::Terms& from, Coverage& coverage) {
  for (const std::string& bytes : from.female_ids()) {
    BP_RETURN_IF_ERROR(TakeFixed("id of a female", bytes, coverage.females.emplace_back().bytes));
  }
  coverage.sacs = from.sacs_covered();
  if (from.covered_until_day() != 0) coverage.until_day = Day{from.covered_until_day()};
  return absl::OkStatus();
}

absl::Status TakeCounting(const v1::Terms& from, Counting& counting) {
  counting.stage = from.counting_stage();
  BP_RETURN_IF_ERROR(TakeKeeper("id of who counts", from.counter_id(), counting.counter));
  return TakeKeeper("id of the witness", from.witness_id(), counting.witness);
}

absl::Status TakeRisk(const v1::Terms& from, RiskClause& risk) {
  const auto take = [](int value, MaleRisk& bearer) {
    return TakeEnum("risk of the animal", value, MaleRisk::kBorrower, bearer);
  };
  BP_RETURN_IF_ERROR(take(from.male_risk(), risk.bearer));
  BP_RETURN_IF_ERROR(take(from.risks().in_transit(), risk.in_transit));
  BP_RETURN_IF_ERROR(take(from.risks().eaten(), risk.eaten));
  BP_RETURN_IF_ERROR(take(from.risks().natural(), risk.natural));
  risk.yield_slings = from.risks().slings();
  return TakeEnum("yield of a death", from.risks().yield(), RiskYield::kRemarks, risk.yield);
}

absl::Status TakeCarriage(const v1::Terms& from, CarriageClause& carriage) {
  const auto take = [](int value, CarriagePayer& payer) {
    return TakeEnum("payer of carriage", value, CarriagePayer::kReceiver, payer);
  };
  BP_RETURN_IF_ERROR(take(from.carriage_payer(), carriage.payer));
  BP_RETURN_IF_ERROR(take(from.carriage_out(), carriage.out));
  BP_RETURN_IF_ERROR(take(from.carriage_back(), carriage.back));
  return take(from.carriage_slings(), carriage.slings);
}

absl::Status TakeFailure(const v1::FailureTerms& from, FailureClause& failure) {
  BP_RETURN_IF_ERROR(
      TakeEnum("rule for no sac", from.no_sac(), FailureRule::kNextSac, failure.no_sac));
  BP_RETURN_IF_ERROR(TakeEnum("rule for an infertile sac", from.infertile_sac(),
                              FailureRule::kNextSac, failure.infertile_sac));
  failure.no_sac_days = from.no_sac_days();
  return absl::OkStatus();
}

}  // namespace

absl::Status Fault(std::string_view reason, std::string_view wrong) {
  return Fail(absl::StatusCode::kInvalidArgument, reason, fmt::format("agreement: {}", wrong));
}

absl::Status FormFault(std::string_view wrong) {
  return Fault("AGREEMENT_FORM", wrong);
}

bool HasUnknownField(const google::protobuf::Message& message) {
  const google::protobuf::Reflection& reflection = *message.GetReflection();
  if (!reflection.GetUnknownFields(message).empty()) return true;
  std::vector<const google::protobuf::FieldDescriptor*> fields;
  reflection.ListFields(message, &fields);
  for (const google::protobuf::FieldDescriptor* field : fields) {
    if (field->type() != google::protobuf::FieldDescriptor::TYPE_MESSAGE) continue;
    if (!field->is_repeated()) {
      if (HasUnknownField(reflection.GetMessage(message, field))) return true;
      continue;
    }
    for (int i = 0; i < reflection.FieldSize(message, field); ++i) {
      if (HasUnknownField(reflection.GetRepeatedMessage(message, field, i))) return true;
    }
  }
  return false;
}

absl::StatusOr<Terms> TakeTerms(const v1::Terms& from, Naming naming) {
  Terms terms;
  for (const v1::Party& party : from.parties()) {
    BP_ASSIGN_OR_RETURN(terms.parties.emplace_back(), TakeParty(party, naming));
  }
  BP_RETURN_IF_ERROR(TakeCoverage(from, terms.coverage));
  BP_RETURN_IF_ERROR(TakeCounting(from, terms.counting));
  BP_RETURN_IF_ERROR(TakeSlings(from, terms));
  BP_RETURN_IF_ERROR(
      TakeEnum("bearer of losses", from.loss_bearer(), LossBearer::kShared, terms.loss_bearer));
  BP_RETURN_IF_ERROR(TakeRisk(from, terms.risk));
  terms.giving_back.pairings_max = from.return_terms().pairings_max();
  BP_RETURN_IF_ERROR(TakeEnum("rule for lending on", from.return_terms().lending_on(),
                              LendingOn::kAllowed, terms.giving_back.lending_on));
  BP_RETURN_IF_ERROR(TakeCarriage(from, terms.carriage));
  terms.dead_arrivals = {.report_hours = from.dead_arrivals().report_hours(),
                         .replace_days = from.dead_arrivals().replace_days()};
  BP_RETURN_IF_ERROR(TakeFailure(from.failures(), terms.failure));
  BP_RETURN_IF_ERROR(TakeKeeper("id of the arbiter", from.arbiter_id(), terms.arbiter));
  terms.remarks = from.remarks();
  return terms;
}

}  // namespace broodpact::facts::internal
