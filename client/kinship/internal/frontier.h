#pragma once

// Which ancestors are still to be visited: a set of places that gives back the highest first.
//
// Method: a tree of 64-bit words, one bit a place at the bottom, one bit a word above it, up to a
// single word. A walk takes places from the top down, and adds only what lies below: the word that
// it last took from mostly has the next one too, and the tree is asked where it has not.

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
    std::size_t at = place / kWordBits;
    std::uint64_t& bottom = levels_.front()[at];
    const bool had_none = bottom == 0;
    bottom |= BitOf(place);
    if (!had_none) return;
    if (at > highest_) highest_ = at;
    for (std::size_t level = 1; level < levels_.size(); ++level) {
      std::uint64_t& word = levels_[level][at / kWordBits];
      const bool was_empty = word == 0;
      word |= BitOf(at);
      if (!was_empty) return;
      at /= kWordBits;
    }
  }

  // Takes the highest place out. The set is not empty.
  Node TakeHighest() {
    if (levels_.front()[highest_] == 0) FindHighest();
    std::uint64_t& bottom = levels_.front()[highest_];
    const auto bit = static_cast<std::size_t>(std::bit_width(bottom) - 1);
    const auto place = static_cast<Node>(highest_ * kWordBits + bit);
    bottom &= ~(std::uint64_t{1} << bit);
    if (bottom == 0) ClearAbove(highest_);
    return place;
  }

 private:
  static constexpr std::size_t kWordBits = 64;

  static std::uint64_t BitOf(std::size_t at) { return std::uint64_t{1} << (at % kWordBits); }

  void FindHighest() {
    std::size_t at = 0;
    for (std::size_t level = levels_.size(); level-- > 1;) {
      at = at * kWordBits + static_cast<std::size_t>(std::bit_width(levels_[level][at]) - 1);
    }
    highest_ = at;
  }

  void ClearAbove(std::size_t at) {
    for (std::size_t level = 1; level < levels_.size(); ++level) {
      std::uint64_t& word = levels_[level][at / kWordBits];
      word &= ~BitOf(at);
      if (word != 0) return;
      at /= kWordBits;
    }
  }

  std::vector<std::vector<std::uint64_t>> levels_;  // bottom first
  std::size_t highest_ = 0;                         // no word above it has a place
};

}  // namespace broodpact::kinship
