#include "client/kinship/internal/table.h"

namespace broodpact::kinship {

double Table::InbreedingOf(Node animal) const {
  const Node place = place_of[animal];
  return place == kNobody ? families[family_of[animal]].inbreeding : selves[place] - 1;
}

double Table::OwnOf(Node animal) const {
  const Family& family = families[family_of[animal]];
  return 1 - (selves[family.sire] + selves[family.dam]) / 4;
}

Origin Table::OriginOf(Node animal) const {
  const Node place = place_of[animal];
  if (place != kNobody) return {Part{.place = place, .part = 1}, Part{}};
  const Family& family = families[family_of[animal]];
  return {Part{.place = family.sire, .part = 0.5}, Part{.place = family.dam, .part = 0.5}};
}

Node Table::Settle(Node animal) {
  if (place_of[animal] != kNobody) return place_of[animal];
  const Family& family = families[family_of[animal]];
  const double own = OwnOf(animal);
  const auto place = static_cast<Node>(strands.size());
  strands.push_back({.first = family.sire, .second = family.dam, .own = own});
  selves.push_back(1 + family.inbreeding);
  kinds.push_back(PlaceKind::kAnimal);
  animals.push_back(animal);
  place_of[animal] = place;
  return place;
}

}  // namespace broodpact::kinship
