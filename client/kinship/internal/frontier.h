#pragma once

// Which ancestors are still to be visited: a set of places that gives back the highest first.
//
// Method: a tree of 64-bit words, one bit a place at the bottom, one bit a word above it, up to a
// single word. Adding and taking are a word a level, four levels for sixteen million places.

#include <bit>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "client/kinship/parents.h"

namespace broodpact::kinship {

class Frontier {
 public:
  // For places 0 .. `places` - 1.
  explicit Frontier(std::size_t places) {
    do {
      places = (places + kWordBits - 1) / kWordBits;
      levels_.emplace_back(places == 0 ? 1 : places);
    } while (places > 1);
  }

  bool empty() const { return levels_.back().front() == 0; }

  // Adds a place, which may be in the set already.
  void Add(Node place) {
    std::size_t at = place;
    for (std::vector<std::uint64_t>& level : levels_) {
      level[at / kWordBits] |= std::uint64_t{1} << (at % kWordBits);
      at /= kWordBits;
    }
  }

  // Takes the highest place out. The set is not empty.
  Node TakeHighest() {
    std::size_t at = 0;
    for (std::size_t level = levels_.size(); level-- > 0;) {
      at = at * kWordBits + static_cast<std::size_t>(std::bit_width(levels_[level][at]) - 1);
    }
    const auto highest = static_cast<Node>(at);
    for (std::vector<std::uint64_t>& level : levels_) {
      level[at / kWordBits] &= ~(std::uint64_t{1} << (at % kWordBits));
      at /= kWordBits;
      if (level[at] != 0) break;
    }
    return highest;
  }

 private:
  static constexpr std::size_t kWordBits = 64;

  std::vector<std::vector<std::uint64_t>> levels_;  // bottom first
};

}  // namespace broodpact::kinship
