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
}

}  // namespace

void Build(const Terms& from, v1::Terms& to) {
  for (const Party& party : from.parties) {
    v1::Party& added = *to.add_parties();
    added.set_keeper_id(FieldOf(party.keeper));
    added.set_role(static_cast<v1::PartyRole>(party.role));
  }
  if (from.small_clutch) {
    to.set_small_clutch_below(from.small_clutch->below);
    to.set_small_clutch_party(from.small_clutch->party);
  }
  for (const PriorClaim& claim : from.prior_claims) Build(claim, *to.add_prior_claims());
  for (const RatioShare& share : from.shares) {
    v1::RatioShare& added = *to.add_shares();
    added.set_party(share.party);
    added.set_weight(share.weight);
  }
  to.set_counting_stage(from.counting_stage);
  to.set_loss_bearer(static_cast<v1::LossBearer>(from.loss_bearer));
  to.set_sacs_covered(from.sacs_covered);
  to.set_male_risk(static_cast<v1::MaleRisk>(from.male_risk));
  to.set_carriage_payer(static_cast<v1::CarriagePayer>(from.carriage_payer));
  to.set_remarks(from.remarks);
}

}  // namespace broodpact::facts::internal
