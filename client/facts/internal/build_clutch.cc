#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const Pairing& from, v1::Statement& to) {
  v1::PairingEntry& pairing = *to.mutable_pairing();
  pairing.set_pairing_id(FieldOf(from.pairing));
  pairing.set_male_id(FieldOf(from.male));
  pairing.set_female_id(FieldOf(from.female));
  Build(from.day, *pairing.mutable_day());
  pairing.set_outcome(static_cast<v1::PairingOutcome>(from.outcome));
  pairing.set_loan_id(FieldOf(from.loan));
  pairing.set_hybrid_intended(from.hybrid_intended);
}

void Build(const SacLaying& from, v1::Statement& to) {
  v1::SacLaying& laying = *to.mutable_sac_laying();
  laying.set_clutch_id(FieldOf(from.clutch));
  laying.set_female_id(FieldOf(from.female));
  Build(from.day, *laying.mutable_day());
  laying.set_name(from.name);
  laying.set_loan_id(FieldOf(from.loan));
}

void Build(const SacPulling& from, v1::Statement& to) {
  v1::SacPulling& pulling = *to.mutable_sac_pulling();
  pulling.set_clutch_id(FieldOf(from.clutch));
  Build(from.day, *pulling.mutable_day());
}

void Build(const SacLoss& from, v1::Statement& to) {
  v1::SacLoss& loss = *to.mutable_sac_loss();
  loss.set_clutch_id(FieldOf(from.clutch));
  Build(from.day, *loss.mutable_day());
  loss.set_cause(from.cause);
}

void Build(const Count& from, v1::Statement& to) {
  v1::Count& count = *to.mutable_count();
  count.set_clutch_id(FieldOf(from.clutch));
  Build(from.day, *count.mutable_day());
  count.set_slings_living(from.slings_living);
  count.set_slings_dead(from.slings_dead);
  count.set_moult_count(from.moult_count);
  count.set_count_token(FieldOf(from.count_token));
}

void Build(const SplitShare& from, v1::SplitShare& to) {
  to.set_keeper_id(FieldOf(from.keeper));
  to.set_slings(from.slings);
  to.set_lot_id(FieldOf(from.lot));
}

void Build(const SplitRecord& from, v1::Statement& to) {
  v1::SplitRecord& split = *to.mutable_split_record();
  split.set_clutch_id(FieldOf(from.clutch));
  split.set_count_token(FieldOf(from.count_token));
  for (const SplitShare& share : from.shares) Build(share, *split.add_shares());
  split.set_carried_slings(from.carried_slings);
}

void Build(const CountWitness& from, v1::Statement& to) {
  to.add_subject_ids(FieldOf(from.clutch));
  v1::CountWitness& witness = *to.mutable_count_witness();
  witness.set_clutch_id(FieldOf(from.clutch));
  witness.set_count_token(FieldOf(from.count_token));
  Build(from.day, *witness.mutable_day());
}

}  // namespace broodpact::facts::internal
