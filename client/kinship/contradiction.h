#pragma once

// What in a pedigree cannot be, with the facts that contradict each other.
//
// No trade figure is a bound here: a dam may be of any age and have any number of offspring. Dates
// contradict only if they do however the uncertain ones are taken.

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "client/base/day.h"
#include "client/kinship/parents.h"

namespace broodpact::kinship {

enum class Sex : std::uint8_t { kNotKnown, kMale, kFemale };

// What is known of one animal's life.
struct Life {
  Sex sex = Sex::kNotKnown;
  std::optional<DaySpan> hatching{};
  std::optional<DaySpan> maturity{};
  std::optional<DaySpan> death{};
};

enum class Fault : std::uint8_t {
  kOwnAncestor,            // `line` has the cycle
  kFemaleAsSire,           // `parent` of `animal`
  kMaleAsDam,              // `parent` of `animal`
  kParentHatchedAfter,     // `parent` hatched after its offspring `animal`
  kMaturedBeforeHatching,  // `animal`
  kDiedBeforeHatching,     // `animal`
};

struct Contradiction {
  Fault fault = Fault::kOwnAncestor;
  Node animal = kUnknown;
  Node parent = kUnknown;    // where the fault is between two
  std::vector<Node> line{};  // each followed by a parent of its own, the last by the first

  friend bool operator==(const Contradiction&, const Contradiction&) = default;
};

// By animal, then in the order of Fault; of cycles one only, first of all. `lives` are as many as
// `animals`, whose parents are numbers of the pedigree.
std::vector<Contradiction> ContradictionsIn(std::span<const Parents> animals,
                                            std::span<const Life> lives);

}  // namespace broodpact::kinship
