#pragma once

// How a pedigree is written down: each animal by its number, with the numbers of its parents.

#include <cstdint>

namespace broodpact::kinship {

// A place in a pedigree. kUnknown where a parent is not known.
using Node = std::uint32_t;
inline constexpr Node kUnknown = 0xFFFF'FFFF;

struct Parents {
  Node sire = kUnknown;
  Node dam = kUnknown;

  friend bool operator==(const Parents&, const Parents&) = default;
};

}  // namespace broodpact::kinship
