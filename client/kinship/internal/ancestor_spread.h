#pragma once

// Relationships of a few with a few others, over their ancestors alone: hands the genes of the few
// up to their ancestors, and down again along the lines that lead to the others.
//
// Method: that of spread.h, restricted to those places at which a row can be other than zeros and
// is asked for. Young generations have thousands of places and a block meets some dozens of them;
// only the oldest are met whole.

#include <cstddef>
#include <span>
#include <vector>

#include "client/kinship/internal/frontier.h"
#include "client/kinship/internal/strand.h"

namespace broodpact::kinship {

// A row as one vector, which is one cache line: written as a loop over an array it is computed one
// number at a time, and lies across two lines. (An extension that GCC and Clang share.)
inline constexpr std::size_t kRowLanes = 8;
using RowLanes __attribute__((vector_size(kRowLanes * sizeof(double)))) = double;

// Memory for many blocks, one after the other: Begin, Add, HandUp, AskFor, HandDown, At.
class AncestorSpread {
 public:
  // For places below `places`.
  explicit AncestorSpread(std::size_t places) : rows_(places), frontier_(places) {}

  // Zeros everywhere.
  void Begin() {
    for (const Node place : above_) rows_[place] = {};
    for (const Node place : below_) rows_[place] = {};
    above_.clear();
    below_.clear();
  }

  void Add(std::size_t lane, Node place) {
    if (place == kNobody) return;
    rows_[place].lanes[lane] += 1;
    frontier_.Add(place);
  }

  // Afterwards a row says which part of the genes of those added passed through the place.
  void HandUp(std::span<const Strand> strands) {
    while (!frontier_.empty()) {
      const Node place = frontier_.TakeHighest();
      above_.push_back(place);
      const Strand& strand = strands[place];
      const RowLanes row = rows_[place].lanes;
      if (strand.first != kNobody) {
        rows_[strand.first].lanes += row * strand.first_part;
        frontier_.Add(strand.first);
      }
      if (strand.second != kNobody) {
        rows_[strand.second].lanes += row * strand.second_part;
        frontier_.Add(strand.second);
      }
    }
  }

  // After HandUp: a place whose row will be read.
  void AskFor(Node place) {
    if (place != kNobody) frontier_.Add(place);
  }

  // Afterwards a row that was asked for, or that of an ancestor of one, has the relationships of
  // the place with those added.
  void HandDown(std::span<const Strand> strands) {
    while (!frontier_.empty()) {
      const Node place = frontier_.TakeHighest();
      below_.push_back(place);
      AskFor(strands[place].first);
      AskFor(strands[place].second);
    }
    for (std::size_t i = below_.size(); i-- > 0;) {
      const Strand& strand = strands[below_[i]];
      RowLanes& row = rows_[below_[i]].lanes;
      row = row * strand.own + rows_[strand.first].lanes * strand.first_part +
            rows_[strand.second].lanes * strand.second_part;
    }
  }

  // Nobody's row is zeros.
  double At(Node place, std::size_t lane) const { return rows_[place].lanes[lane]; }

 private:
  struct Row {
    RowLanes lanes{};
  };

  std::vector<Row> rows_;
  Frontier frontier_;
  std::vector<Node> above_;  // visited on the way up, highest first
  std::vector<Node> below_;  // visited on the way down, highest first
};

}  // namespace broodpact::kinship
