#include "client/facts/internal/parse.h"

namespace broodpact::facts::internal {

PlanVeto Parse(const v1::PlanVeto& from, Fields& fields) {
  fields.EnterKind("veto");
  PlanVeto veto;
  veto.animal = fields.Optional<AnimalId>("animal", from.animal_id());
  veto.other_animal = fields.Optional<AnimalId>("other animal", from.other_animal_id());
  veto.other_keeper = fields.Optional<KeeperId>("other keeper", from.other_keeper_id());
  veto.stance = fields.OneOf("stance", from.stance(), VetoStance::kLifted);
  if (veto.stance == VetoStance::kUnspecified) veto.stance = VetoStance::kStands;
  if (veto.animal.empty() && veto.other_animal.empty() && veto.other_keeper.empty()) {
    fields.Missing("animal or counterpart");
  }
  if (!veto.other_animal.empty() && !veto.other_keeper.empty()) {
    fields.Note(Fault::kForm, "counterpart", "is an animal or a keeper, not both");
  }
  return veto;
}

WantEntry Parse(const v1::WantEntry& from, Fields& fields) {
  fields.EnterKind("want");
  WantEntry want;
  want.want = fields.Required<WantId>("want", from.want_id());
  want.group = fields.Required<GroupId>("group", from.group_id());
  want.kind = fields.OneOf("kind", from.kind(), WantKind::kFemale);
  if (want.kind == WantKind::kUnspecified) fields.Missing("kind");
  want.count = fields.Slings("number wanted", from.count());
  if (from.has_until_day()) {
    v1::DaySpan until;
    until.set_earliest_day(from.until_day());
    until.set_latest_day(from.until_day());
    want.until = fields.Span("last day of interest", until).earliest;
  }
  want.note = fields.Text("note", from.note(), kReasonBytesMax);
  return want;
}

WantEnd Parse(const v1::WantEnd& from, Fields& fields) {
  fields.EnterKind("end of a want");
  return {.want = fields.Required<WantId>("want", from.want_id())};
}

}  // namespace broodpact::facts::internal
