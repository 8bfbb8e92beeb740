#pragma once

// Relationships of a few with a few others, over their ancestors alone: hands the genes of the few
// up to their ancestors, and down again along the lines that lead to the others.
//
// Method: that of spread.h, restricted to those places at which a row can be other than zeros and
// is asked for. Young generations have thousands of places and a block meets some dozens of them;
// only the oldest are met whole.

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "client/kinship/internal/frontier.h"
#include "client/kinship/internal/strand.h"

namespace broodpact::kinship {

// Memory for many blocks, one after the other: Begin, Add, HandUp, AskFor, HandDown, at.
template <std::size_t kLanes>
class AncestorSpread {
 public:
  using Row = std::array<double, kLanes>;

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
    rows_[place][lane] += 1;
    frontier_.Add(place);
  }

  // Afterwards a row says which part of the genes of those added passed through the place.
  void HandUp(std::span<const Strand> strands) {
    while (!frontier_.empty()) {
      const Node place = frontier_.TakeHighest();
      above_.push_back(place);
      const Strand& strand = strands[place];
      const Row& row = rows_[place];
      if (strand.first != kNobody) {
        AddTo(rows_[strand.first], row, strand.first_part);
        frontier_.Add(strand.first);
      }
      if (strand.second != kNobody) {
        AddTo(rows_[strand.second], row, strand.second_part);
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
      const Node place = below_[i];
      const Strand& strand = strands[place];
      Row row = rows_[place];
      for (double& part : row) part *= strand.own;
      AddTo(row, rows_[strand.first], strand.first_part);
      AddTo(row, rows_[strand.second], strand.second_part);
      rows_[place] = row;
    }
  }

  // Nobody's row is zeros.
  const Row& at(Node place) const { return rows_[place]; }

 private:
  static void AddTo(Row& sum, const Row& row, double part) {
    for (std::size_t lane = 0; lane < kLanes; ++lane) sum[lane] += row[lane] * part;
  }

  std::vector<Row> rows_;
  Frontier frontier_;
  std::vector<Node> above_;  // visited on the way up, highest first
  std::vector<Node> below_;  // visited on the way down, highest first
};

}  // namespace broodpact::kinship
