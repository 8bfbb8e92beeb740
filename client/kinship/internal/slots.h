#pragma once

// Where genes lie while they are handed down: the places, and behind them those of a population
// that have none.

#include <algorithm>
#include <span>
#include <utility>
#include <vector>

#include "client/kinship/internal/table.h"

namespace broodpact::kinship {

struct Slots {
  std::vector<Strand> strands{};      // by slot, in order of descent; places come first
  std::vector<Node> of_population{};  // slot of each, in its order
  std::vector<Node> founder_slots{};  // in order of the founders' numbers
  std::vector<Node> founder_numbers{};
};

inline Slots SlotsOf(const Table& table, std::span<const Node> population) {
  Slots slots{.strands = table.strands};
  std::vector<std::pair<Node, Node>> founders;  // number, slot
  for (Node place = 1; place < table.strands.size(); ++place) {
    Strand& strand = slots.strands[place];
    if (table.kinds[place] != PlaceKind::kAnimal) continue;
    if (table.kinds[strand.first] == PlaceKind::kBase) strand.first = kNobody;
    if (strand.first == kNobody && strand.second == kNobody) {
      founders.emplace_back(table.animals[place], place);
    }
  }
  for (const Node animal : population) {
    const Node place = table.place_of[animal];
    slots.of_population.push_back(place);
    if (place != kNobody) continue;
    const auto slot = static_cast<Node>(slots.strands.size());
    const Family& family = table.families[table.family_of[animal]];
    slots.strands.push_back({.first = family.sire, .second = family.dam});
    slots.of_population.back() = slot;
    if (family.sire == kNobody && family.dam == kNobody) founders.emplace_back(animal, slot);
  }
  std::ranges::sort(founders);
  for (const auto& [number, slot] : founders) {
    slots.founder_numbers.push_back(number);
    slots.founder_slots.push_back(slot);
  }
  return slots;
}

}  // namespace broodpact::kinship
