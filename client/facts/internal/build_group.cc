#include "client/facts/internal/build.h"

namespace broodpact::facts::internal {

void Build(const NameUse& from, v1::Statement& to) {
  v1::NameUse& use = *to.mutable_name_use();
  use.set_group_id(FieldOf(from.group));
  use.set_name(from.name);
  use.set_status(static_cast<v1::NameStatus>(from.status));
  if (from.since) Build(*from.since, *use.mutable_since());
  use.set_source(from.source);
}

void Build(const GroupMove& from, v1::Statement& to) {
  v1::GroupMove& move = *to.mutable_group_move();
  move.set_group_id(FieldOf(from.group));
  for (const AnimalId& animal : from.animals) move.add_animal_ids(FieldOf(animal));
  move.set_reason(from.reason);
}

void Build(const GroupClosure& from, v1::Statement& to) {
  v1::GroupClosure& closure = *to.mutable_group_closure();
  closure.set_group_id(FieldOf(from.group));
  closure.set_successor_id(FieldOf(from.successor));
  closure.set_reason(from.reason);
}

void Build(const FounderKinship& from, v1::Statement& to) {
  v1::FounderKinship& kinship = *to.mutable_founder_kinship();
  kinship.set_group_id(FieldOf(from.group));
  kinship.set_numerator(from.numerator);
  kinship.set_denominator(from.denominator);
  kinship.set_reason(from.reason);
  to.add_subject_ids(FieldOf(from.group));
}

}  // namespace broodpact::facts::internal
