#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {
namespace {

constexpr int kMergedMax = 16;

}  // namespace

LateHatching Parse(const v1::LateHatching& from, Fields& fields) {
  fields.EnterKind("late hatching");
  LateHatching hatching;
  hatching.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  hatching.slings = fields.Slings("number of slings", from.slings(), 1);
  hatching.day = fields.Day(from);
  return hatching;
}

ShareWaiver Parse(const v1::ShareWaiver& from, Fields& fields) {
  fields.EnterKind("waiver of a share");
  ShareWaiver waiver;
  waiver.clutch = fields.Required<ClutchId>("clutch", from.clutch_id());
  waiver.party = fields.Required<KeeperId>("party", from.party_id());
  waiver.receiver = fields.Optional<KeeperId>("receiver", from.receiver_id());
  waiver.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return waiver;
}

LotReturn Parse(const v1::LotReturn& from, Fields& fields) {
  fields.EnterKind("return of slings");
  LotReturn back;
  back.lot = fields.Required<LotId>("lot", from.lot_id());
  back.slings = fields.Slings("number of slings", from.slings(), 1);
  back.day = fields.Day(from);
  back.reason = fields.Text("reason", from.reason(), kReasonBytesMax);
  return back;
}

LotPassing Parse(const v1::LotPassing& from, Fields& fields) {
  fields.EnterKind("passing on of slings");
  LotPassing passing;
  passing.lot = fields.Required<LotId>("lot", from.lot_id());
  passing.new_lot = fields.Required<LotId>("new lot", from.new_lot_id());
  passing.receiver = fields.Required<KeeperId>("receiver", from.receiver_id());
  passing.slings = fields.Slings("number of slings", from.slings(), 1);
  passing.day = fields.Day(from);
  return passing;
}

LotDivision Parse(const v1::LotDivision& from, Fields& fields) {
  fields.EnterKind("division of a lot");
  LotDivision division;
  division.lot = fields.Required<LotId>("lot", from.lot_id());
  division.new_lot = fields.Required<LotId>("new lot", from.new_lot_id());
  division.slings = fields.Slings("number of slings", from.slings(), 1);
  division.day = fields.Day(from);
  return division;
}

LotMerging Parse(const v1::LotMerging& from, Fields& fields) {
  fields.EnterKind("merging of lots");
  LotMerging merging;
  merging.lot = fields.Required<LotId>("lot", from.lot_id());
  if (from.merged_lot_ids().empty()) fields.Missing("list of lots");
  if (from.merged_lot_ids_size() > kMergedMax) {
    fields.Note(Fault::kForm, "list of lots", "is too long");
    return merging;
  }
  for (const std::string& id : from.merged_lot_ids()) {
    merging.merged.push_back(fields.Required<LotId>("lot that is merged", id));
  }
  merging.day = fields.Day(from);
  return merging;
}

}  // namespace broodpact::facts::internal
