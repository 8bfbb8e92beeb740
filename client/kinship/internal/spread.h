#pragma once

// Relationships of a few with everybody: hands their genes up to all ancestors and down again to
// all who have them from those.
//
// Method: Colleau, "An indirect approach to the extensive calculation of relationship
// coefficients", Genet. Sel. Evol. 34 (2002) 409-421: a row of A = T D T' is T (D (T' e)). Several
// rows go side by side, in lanes, because what costs is to look up who the parents are.

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "client/kinship/internal/strand.h"

namespace broodpact::kinship {

template <std::size_t kLanes>
class Spread {
 public:
  using Row = std::array<double, kLanes>;

  // Zeros for places 0 .. `highest`. Memory for higher ones is kept for later.
  void Begin(Node highest) {
    if (rows_.size() <= highest) rows_.resize(std::size_t{highest} + 1);
    std::fill_n(rows_.begin(), std::size_t{highest} + 1, Row{});
  }

  void Add(std::size_t lane, const Part& part) { rows_[part.place][lane] += part.part; }

  // Afterwards a row says which part of the genes passed through the place. Nothing was added above
  // `highest`.
  void HandUp(std::span<const Strand> strands, Node highest) {
    for (Node place = highest; place > kNobody; --place) {
      const Row row = rows_[place];
      double any = 0;
      for (const double part : row) any += part;
      if (any == 0) continue;
      const Strand& strand = strands[place];
      AddTo(rows_[strand.first], row, strand.first_part);
      AddTo(rows_[strand.second], row, strand.second_part);
    }
    rows_[kNobody] = {};
  }

  // After HandUp: afterwards a row has the relationships with the animal of the place.
  void HandDown(std::span<const Strand> strands, Node highest) {
    for (Node place = 1; place <= highest; ++place) {
      const Strand& strand = strands[place];
      Row row = rows_[place];
      for (double& part : row) part *= strand.own;
      AddTo(row, rows_[strand.first], strand.first_part);
      AddTo(row, rows_[strand.second], strand.second_part);
      rows_[place] = row;
    }
  }

  const Row& at(Node place) const { return rows_[place]; }

 private:
  static void AddTo(Row& sum, const Row& row, double part) {
    for (std::size_t lane = 0; lane < kLanes; ++lane) sum[lane] += row[lane] * part;
  }

  std::vector<Row> rows_;
};

}  // namespace broodpact::kinship
