#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const LotDispatch& from, v1::Statement& to) {
  v1::LotDispatch& dispatch = *to.mutable_lot_dispatch();
  dispatch.set_lot_id(FieldOf(from.lot));
  dispatch.set_parcel_id(FieldOf(from.parcel));
  dispatch.set_receiver_id(FieldOf(from.receiver));
  dispatch.set_slings(from.slings);
  Build(from.day, *dispatch.mutable_day());
  dispatch.set_replaced_id(FieldOf(from.replaced));
}

void Build(const LotReceipt& from, v1::Statement& to) {
  v1::LotReceipt& receipt = *to.mutable_lot_receipt();
  receipt.set_parcel_id(FieldOf(from.parcel));
  receipt.set_slings_living(from.slings_living);
  receipt.set_slings_dead(from.slings_dead);
  Build(from.day, *receipt.mutable_day());
}

void Build(const LotLoss& from, v1::Statement& to) {
  v1::LotLoss& loss = *to.mutable_lot_loss();
  loss.set_lot_id(FieldOf(from.lot));
  loss.set_slings(from.slings);
  Build(from.day, *loss.mutable_day());
  loss.set_cause(from.cause);
}

void Build(const LotRaising& from, v1::Statement& to) {
  v1::LotRaising& raising = *to.mutable_lot_raising();
  raising.set_lot_id(FieldOf(from.lot));
  raising.set_animal_id(FieldOf(from.animal));
  raising.set_name(from.name);
  raising.set_sex(static_cast<v1::Sex>(from.sex));
  Build(from.day, *raising.mutable_day());
}

}  // namespace broodpact::facts::internal
