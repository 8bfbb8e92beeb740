#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {

LotDispatch Parse(const v1::LotDispatch& from, Fields& fields) {
  fields.EnterKind("lot dispatch");
  LotDispatch dispatch;
  dispatch.lot = fields.Required<LotId>("lot", from.lot_id());
  dispatch.parcel = fields.Required<LotId>("parcel", from.parcel_id());
  dispatch.receiver = fields.Required<KeeperId>("receiver", from.receiver_id());
  dispatch.slings = fields.Slings("number of slings", from.slings(), 1);
  dispatch.day = fields.Day(from);
  dispatch.replaced = fields.Optional<LotId>("parcel made good", from.replaced_id());
  return dispatch;
}

LotReceipt Parse(const v1::LotReceipt& from, Fields& fields) {
  fields.EnterKind("lot receipt");
  LotReceipt receipt;
  receipt.parcel = fields.Required<LotId>("parcel", from.parcel_id());
  receipt.slings_living = fields.Slings("number of living slings", from.slings_living());
  receipt.slings_dead = fields.Slings("number of dead slings", from.slings_dead());
  receipt.day = fields.Day(from);
  return receipt;
}

LotLoss Parse(const v1::LotLoss& from, Fields& fields) {
  fields.EnterKind("lot loss");
  LotLoss loss;
  loss.lot = fields.Required<LotId>("lot", from.lot_id());
  loss.slings = fields.Slings("number of slings", from.slings(), 1);
  loss.day = fields.Day(from);
  loss.cause = fields.Text("cause", from.cause(), kReasonBytesMax);
  return loss;
}

LotRaising Parse(const v1::LotRaising& from, Fields& fields) {
  fields.EnterKind("lot raising");
  LotRaising raising;
  raising.lot = fields.Required<LotId>("lot", from.lot_id());
  raising.animal = fields.Required<AnimalId>("animal", from.animal_id());
  raising.name = fields.Name("name of the animal", from.name());
  raising.sex = fields.OneOf("sex", from.sex(), Sex::kMale);
  raising.day = fields.Day(from);
  return raising;
}

}  // namespace broodpact::facts::internal
