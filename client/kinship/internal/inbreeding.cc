// Inbreeding of all families, level by level: a level needs only what the levels before it gave.

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "client/kinship/internal/ancestor_spread.h"
#include "client/kinship/internal/ancestor_walk.h"
#include "client/kinship/internal/table.h"

namespace broodpact::kinship {
namespace {

// A family is walked by itself where it has no more ancestors than this share of a block's, one in
// so many. Measured on generated pedigrees of 10,000 to 1,000,000; within a factor of two it does
// not matter.
constexpr std::uint64_t kWalkCost = 2;

class Filler {
 public:
  Filler(Table& table, const std::vector<Node>& levels)
      : table_(table),
        levels_(levels),
        reach_(levels.size()),
        walk_(levels.size()),
        spread_(levels.size()) {}

  void Fill() {
    std::size_t family = 1;
    std::size_t place = 1;
    for (Node level = 0; family < table_.families.size() || place < levels_.size(); ++level) {
      const std::size_t first = family;
      while (family < table_.families.size() && LevelOf(table_.families[family]) == level) ++family;
      FillFamilies(std::span(table_.families).subspan(first, family - first));
      for (; place < levels_.size() && levels_[place] == level; ++place) {
        FillPlace(static_cast<Node>(place));
      }
    }
  }

 private:
  Node LevelOf(const Family& family) const {
    return std::max(levels_[family.sire], levels_[family.dam]) + 1;
  }

  // Families of one sire are next to each other. Takes as many sires as there are lanes at once.
  void FillFamilies(std::span<Family> families) {
    for (std::size_t begin = 0; begin < families.size();) {
      std::size_t end = begin;
      std::size_t sires = 0;
      for (; end < families.size(); ++end) {
        const bool new_sire = end == begin || families[end].sire != families[end - 1].sire;
        if (new_sire && ++sires > kRowLanes) break;
      }
      FillBlock(families.subspan(begin, end - begin));
      begin = end;
    }
  }

  void FillBlock(std::span<Family> families) {
    Node highest_sire = kNobody;
    Node highest_dam = kNobody;
    std::uint64_t of_sires = 0;
    std::uint64_t of_dams = 0;
    std::uint64_t walks = 0;
    for (std::size_t i = 0; i < families.size(); ++i) {
      const Family& family = families[i];
      highest_sire = std::max(highest_sire, family.sire);
      highest_dam = std::max(highest_dam, family.dam);
      if (i == 0 || family.sire != families[i - 1].sire) of_sires += reach_[family.sire];
      of_dams += reach_[family.dam];
      if (family.sire == kNobody || family.dam == kNobody) continue;
      walks += std::uint64_t{reach_[family.sire]} + reach_[family.dam];
    }
    const std::uint64_t spread = std::min<std::uint64_t>(of_sires, highest_sire) +
                                 2 * std::min<std::uint64_t>(of_dams, highest_dam);
    if (walks * kWalkCost <= spread) {
      for (Family& family : families) WalkFrom(family);
    } else {
      SpreadSires(families);
    }
  }

  void WalkFrom(Family& family) {
    const Part sire{.place = family.sire, .part = 1};
    const Part dam{.place = family.dam, .part = 1};
    family.inbreeding = walk_.Relationship({&sire, 1}, {&dam, 1}, table_.strands) / 2;
  }

  void SpreadSires(std::span<Family> families) {
    spread_.Begin();
    std::vector<std::size_t> lanes(families.size());
    for (std::size_t i = 0; i < families.size(); ++i) {
      const bool same_sire = i > 0 && families[i].sire == families[i - 1].sire;
      if (i > 0) lanes[i] = lanes[i - 1] + (same_sire ? 0 : 1);
      if (!same_sire) spread_.Add(lanes[i], families[i].sire);
    }
    spread_.HandUp(table_.strands);
    for (const Family& family : families) spread_.AskFor(family.dam);
    spread_.HandDown(table_.strands);
    for (std::size_t i = 0; i < families.size(); ++i) {
      families[i].inbreeding = spread_.At(families[i].dam, lanes[i]) / 2;
    }
  }

  // Of what a place is from: its relationship with itself.
  double RelationshipOfOrigin(const Strand& strand) {
    const Part parts[] = {{.place = strand.first, .part = strand.first_part},
                          {.place = strand.second, .part = strand.second_part}};
    return walk_.Relationship(parts, parts, table_.strands);
  }

  void FillPlace(Node place) {
    Strand& strand = table_.strands[place];
    double& self = table_.selves[place];
    const double first_self = table_.selves[strand.first];
    const double second_self = table_.selves[strand.second];
    // A bound on how many ancestors there are, itself among them.
    reach_[place] = static_cast<Node>(std::min<std::uint64_t>(
        place, std::uint64_t{reach_[strand.first]} + reach_[strand.second] + 1));
    switch (table_.kinds[place]) {
      case PlaceKind::kAnimal:
        if (table_.kinds[strand.first] == PlaceKind::kBase) {
          strand.own = 1 - first_self;
          self = 1;
        } else {
          strand.own = 1 - (first_self + second_self) / 4;
          self = 1 + table_.families[table_.family_of[table_.animals[place]]].inbreeding;
        }
        return;
      case PlaceKind::kOneForEach:
        self = RelationshipOfOrigin(strand);
        return;
      case PlaceKind::kRest:
      case PlaceKind::kOneForAll: {
        // Whichever it is, it is related to itself as that one; an unknown founder by 1.
        const double unknown = 1 - (strand.first == kNobody ? 0 : strand.first_part) -
                               (strand.second == kNobody ? 0 : strand.second_part);
        self = strand.first_part * first_self + strand.second_part * second_self + unknown;
        if (table_.kinds[place] == PlaceKind::kRest) return;
        strand.own = std::max(0.0, self - RelationshipOfOrigin(strand));
        return;
      }
      case PlaceKind::kBase:
        self = strand.own;
        return;
    }
  }

  Table& table_;
  const std::vector<Node>& levels_;
  std::vector<Node> reach_;  // by place
  AncestorWalk walk_;
  AncestorSpread spread_;
};

}  // namespace

void FillInbreeding(Table& table, const std::vector<Node>& levels) {
  Filler(table, levels).Fill();
}

}  // namespace broodpact::kinship
