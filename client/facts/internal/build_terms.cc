#include "broodpact/v1/terms.pb.h"
#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {
namespace {

void Build(const PriorClaim& from, v1::PriorClaim& to) {
  to.set_party(from.party);
  switch (from.kind) {
    case ClaimKind::kSlings:
      to.set_slings(from.amount);
      break;
    case ClaimKind::kBasisPoints:
      to.set_basis_points(from.amount);
      break;
  }
  to.set_slings_counted_min(from.slings_counted_min);
  to.set_slings_max(from.slings_max);
  to.set_slings_min(from.slings_min);
  to.set_sacs_max(from.sacs_max);
}

void Build(const RatioShare& from, v1::RatioShare& to) {
  to.set_party(from.party);
  to.set_weight(from.weight);
}

v1::ApportionmentMethod MessageOf(Method method) {
  // What holds where nothing is said is not said.
  if (method == Method::kLargestRemainder) return v1::APPORTIONMENT_METHOD_UNSPECIFIED;
  return static_cast<v1::ApportionmentMethod>(static_cast<int>(method) + 1);
}

void BuildSlings(const Terms& from, v1::Terms& to) {
  if (from.small_clutch) {
    to.set_small_clutch_below(from.small_clutch->below);
    to.set_small_clutch_party(from.small_clutch->party);
  }
  for (const PriorClaim& claim : from.prior_claims) Build(claim, *to.add_prior_claims());
  for (const RatioShare& share : from.shares) Build(share, *to.add_shares());
  for (const LaterShares& later : from.later_shares) {
    v1::LaterShares& added = *to.add_later_shares();
    added.set_first_sac(later.first_sac);
    for (const RatioShare& share : later.shares) Build(share, *added.add_shares());
  }
  to.set_method(MessageOf(from.apportioning.method));
  to.set_carry(static_cast<v1::Carry>(from.apportioning.carry));
  to.set_sire_rule(static_cast<v1::SireRule>(from.apportioning.sires));
}

void BuildRisk(const RiskClause& from, v1::Terms& to) {
  to.set_male_risk(static_cast<v1::MaleRisk>(from.bearer));
  RiskClause particulars = from;
  particulars.bearer = MaleRisk::kUnspecified;
  if (particulars == RiskClause{}) return;
  v1::RiskTerms& risks = *to.mutable_risks();
  risks.set_in_transit(static_cast<v1::MaleRisk>(from.in_transit));
  risks.set_eaten(static_cast<v1::MaleRisk>(from.eaten));
  risks.set_natural(static_cast<v1::MaleRisk>(from.natural));
  risks.set_yield(static_cast<v1::RiskYield>(from.yield));
  risks.set_slings(from.yield_slings);
}

void BuildCarriage(const CarriageClause& from, v1::Terms& to) {
  to.set_carriage_payer(static_cast<v1::CarriagePayer>(from.payer));
  to.set_carriage_out(static_cast<v1::CarriagePayer>(from.out));
  to.set_carriage_back(static_cast<v1::CarriagePayer>(from.back));
  to.set_carriage_slings(static_cast<v1::CarriagePayer>(from.slings));
}

void BuildGivingBack(const ReturnClause& from, v1::Terms& to) {
  if (from == ReturnClause{}) return;
  to.mutable_return_terms()->set_pairings_max(from.pairings_max);
  to.mutable_return_terms()->set_lending_on(static_cast<v1::LendingOn>(from.lending_on));
}

void BuildDeadArrivals(const DeadArrivals& from, v1::Terms& to) {
  if (from == DeadArrivals{}) return;
  to.mutable_dead_arrivals()->set_report_hours(from.report_hours);
  to.mutable_dead_arrivals()->set_replace_days(from.replace_days);
}

void BuildFailure(const FailureClause& from, v1::Terms& to) {
  if (from == FailureClause{}) return;
  v1::FailureTerms& failures = *to.mutable_failures();
  failures.set_no_sac(static_cast<v1::FailureRule>(from.no_sac));
  failures.set_infertile_sac(static_cast<v1::FailureRule>(from.infertile_sac));
  failures.set_no_sac_days(from.no_sac_days);
}

}  // namespace

void Build(const Terms& from, v1::Terms& to) {
  for (const Party& party : from.parties) {
    v1::Party& added = *to.add_parties();
    added.set_keeper_id(FieldOf(party.keeper));
    added.set_role(static_cast<v1::PartyRole>(party.role));
  }
  for (const AnimalId& female : from.coverage.females) to.add_female_ids(FieldOf(female));
  to.set_sacs_covered(from.coverage.sacs);
  if (from.coverage.until_day) to.set_covered_until_day(from.coverage.until_day->number);
  to.set_counting_stage(from.counting.stage);
  to.set_counter_id(FieldOf(from.counting.counter));
  to.set_witness_id(FieldOf(from.counting.witness));
  BuildSlings(from, to);
  to.set_loss_bearer(static_cast<v1::LossBearer>(from.loss_bearer));
  BuildRisk(from.risk, to);
  BuildGivingBack(from.giving_back, to);
  BuildCarriage(from.carriage, to);
  BuildDeadArrivals(from.dead_arrivals, to);
  BuildFailure(from.failure, to);
  to.set_arbiter_id(FieldOf(from.arbiter));
  to.set_remarks(from.remarks);
}

}  // namespace broodpact::facts::internal
