#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {
namespace {

// An older replica holds still what these name. Not the animals: it would refuse moults and loans
// of them for the sake of a wish that it cannot read.
void NameSubject(const IdBytes& id, v1::Statement& to) {
  to.add_subject_ids(std::string(ViewOf(id)));
}

}  // namespace

void Build(const PlanVeto& from, v1::Statement& to) {
  v1::PlanVeto& veto = *to.mutable_plan_veto();
  veto.set_animal_id(FieldOf(from.animal));
  veto.set_other_animal_id(FieldOf(from.other_animal));
  veto.set_other_keeper_id(FieldOf(from.other_keeper));
  veto.set_stance(static_cast<v1::VetoStance>(from.stance));
}

void Build(const WantEntry& from, v1::Statement& to) {
  NameSubject(from.want.bytes, to);
  v1::WantEntry& want = *to.mutable_want();
  want.set_want_id(FieldOf(from.want));
  want.set_group_id(FieldOf(from.group));
  want.set_kind(static_cast<v1::WantKind>(from.kind));
  want.set_count(from.count);
  if (from.until) want.set_until_day(from.until->number);
  want.set_note(from.note);
}

void Build(const WantEnd& from, v1::Statement& to) {
  NameSubject(from.want.bytes, to);
  to.mutable_want_end()->set_want_id(FieldOf(from.want));
}

}  // namespace broodpact::facts::internal
