#pragma once

// A pedigree made ready to compute with: who breeds has a place, who has the same parents a family.

#include <array>
#include <cstdint>
#include <vector>

#include "absl/status/statusor.h"

#include "client/kinship/internal/strand.h"
#include "client/kinship/lines.h"

namespace broodpact::kinship {

enum class PlaceKind : std::uint8_t {
  kAnimal,
  kOneForAll,   // stands in for one of several sires, the same for all its offspring
  kOneForEach,  // stands in for a sire that each offspring draws for itself
  kRest,        // the second and later possible sires of a stand-in with more than two
  kBase,        // what related founders share
};

// All animals of the same two parents, by places.
struct Family {
  Node sire = kNobody;
  Node dam = kNobody;
  double inbreeding = 0;
};

// Where the genes of an animal are from: its own place, or those of its two parents.
using Origin = std::array<Part, 2>;

struct Table {
  // By place. Place 0 is nobody.
  std::vector<Strand> strands{};
  std::vector<double> selves{};  // relationship with itself: 1 + inbreeding
  std::vector<PlaceKind> kinds{};
  std::vector<Node> animals{};  // its number; kUnknown where the place is no animal's

  std::vector<Family> families{};  // the first is of founders: both parents nobody

  // By number.
  std::vector<Node> family_of{};  // 0 for founders and stand-ins
  std::vector<Node> place_of{};   // kNobody: has no offspring

  double InbreedingOf(Node animal) const;

  // Of an animal without a place: how much of its genes is new chance and not its parents' average,
  // as a variance relative to that of a founder.
  double OwnOf(Node animal) const;

  Origin OriginOf(Node animal) const;

  // Gives an animal a place, the last, if it has none.
  Node Settle(Node animal);
};

// Errors: as Pedigree::Of.
absl::StatusOr<Table> TableOf(const Lines& lines);

// Fills in `own`, `selves` and the inbreeding of all families. Levels are by place: 0, or one more
// than the higher of the two that it is from; places are in the order of their levels, families in
// that of their parents' later level.
void FillInbreeding(Table& table, const std::vector<Node>& levels);

}  // namespace broodpact::kinship
