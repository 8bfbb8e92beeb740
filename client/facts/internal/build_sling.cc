#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const LateHatching& from, v1::Statement& to) {
  v1::LateHatching& hatching = *to.mutable_late_hatching();
  hatching.set_clutch_id(FieldOf(from.clutch));
  hatching.set_slings(from.slings);
  Build(from.day, *hatching.mutable_day());
}

void Build(const ShareWaiver& from, v1::Statement& to) {
  v1::ShareWaiver& waiver = *to.mutable_share_waiver();
  waiver.set_clutch_id(FieldOf(from.clutch));
  waiver.set_party_id(FieldOf(from.party));
  waiver.set_receiver_id(FieldOf(from.receiver));
  waiver.set_reason(from.reason);
}

void Build(const LotReturn& from, v1::Statement& to) {
  v1::LotReturn& back = *to.mutable_lot_return();
  back.set_lot_id(FieldOf(from.lot));
  back.set_slings(from.slings);
  Build(from.day, *back.mutable_day());
  back.set_reason(from.reason);
}

void Build(const LotPassing& from, v1::Statement& to) {
  v1::LotPassing& passing = *to.mutable_lot_passing();
  passing.set_lot_id(FieldOf(from.lot));
  passing.set_new_lot_id(FieldOf(from.new_lot));
  passing.set_receiver_id(FieldOf(from.receiver));
  passing.set_slings(from.slings);
  Build(from.day, *passing.mutable_day());
}

void Build(const LotDivision& from, v1::Statement& to) {
  v1::LotDivision& division = *to.mutable_lot_division();
  division.set_lot_id(FieldOf(from.lot));
  division.set_new_lot_id(FieldOf(from.new_lot));
  division.set_slings(from.slings);
  Build(from.day, *division.mutable_day());
}

void Build(const LotMerging& from, v1::Statement& to) {
  v1::LotMerging& merging = *to.mutable_lot_merging();
  merging.set_lot_id(FieldOf(from.lot));
  for (const LotId& lot : from.merged) merging.add_merged_lot_ids(FieldOf(lot));
  Build(from.day, *merging.mutable_day());
}

}  // namespace broodpact::facts::internal
