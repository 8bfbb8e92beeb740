#include "client/kinship/pedigree.h"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/kinship/internal/ancestor_walk.h"
#include "client/kinship/internal/spread.h"

namespace broodpact::kinship {
namespace {

constexpr std::size_t kLanes = 8;

Node HighestOf(const Table& table) {
  return static_cast<Node>(table.strands.size() - 1);
}

template <std::size_t kCount>
void AddAnimal(Spread<kCount>& spread, std::size_t lane, const Table& table, Node animal,
               double part) {
  for (const Part& origin : table.OriginOf(animal)) {
    spread.Add(lane, {.place = origin.place, .part = origin.part * part});
  }
}

// Relationship of an animal with what was spread, as it comes from its places.
template <std::size_t kCount>
double RelationshipAt(const Spread<kCount>& spread, std::size_t lane, const Table& table,
                      Node animal) {
  double relationship = 0;
  for (const Part& origin : table.OriginOf(animal)) {
    relationship += spread.at(origin.place)[lane] * origin.part;
  }
  return relationship;
}

// Two animals without a place share only what their parents do, unless they are one.
double OwnShared(const Table& table, Node first, Node second) {
  return first == second && table.place_of[first] == kNobody ? table.OwnOf(first) : 0;
}

}  // namespace

absl::StatusOr<Pedigree> Pedigree::Of(const Lines& lines) {
  BP_CHECK(lines.animals.size() < kUnknown / 4);
  BP_ASSIGN_OR_RETURN(Table table, TableOf(lines));
  return Pedigree(std::move(table));
}

absl::StatusOr<Pedigree> Pedigree::Of(std::vector<Parents> animals) {
  return Of(Lines{.animals = std::move(animals)});
}

double Pedigree::Kinship(Node first, Node second) const {
  const Origin one = table_.OriginOf(first);
  const Origin other = table_.OriginOf(second);
  Node highest = kNobody;
  for (const Part& part : {one[0], one[1], other[0], other[1]}) {
    highest = std::max(highest, part.place);
  }
  AncestorWalk walk(std::size_t{highest} + 1);
  const double shared = walk.Relationship(one, other, table_.strands);
  return (shared + OwnShared(table_, first, second)) / 2;
}

std::vector<double> Pedigree::KinshipWithAll(Node animal) const {
  Spread<1> spread;
  spread.Begin(HighestOf(table_));
  AddAnimal(spread, 0, table_, animal, 1);
  spread.HandUp(table_.strands, HighestOf(table_));
  spread.HandDown(table_.strands, HighestOf(table_));
  std::vector<double> kinships(size());
  for (std::size_t i = 0; i < kinships.size(); ++i) {
    kinships[i] = RelationshipAt(spread, 0, table_, static_cast<Node>(i)) / 2;
  }
  kinships[animal] += OwnShared(table_, animal, animal) / 2;
  return kinships;
}

std::vector<double> Pedigree::KinshipBetween(std::span<const Node> rows,
                                             std::span<const Node> columns) const {
  std::vector<double> kinships;
  kinships.reserve(rows.size() * columns.size());
  Node highest_column = kNobody;
  for (const Node column : columns) {
    for (const Part& part : table_.OriginOf(column)) {
      highest_column = std::max(highest_column, part.place);
    }
  }
  Spread<kLanes> spread;
  for (std::size_t begin = 0; begin < rows.size(); begin += kLanes) {
    const auto block = rows.subspan(begin, std::min(kLanes, rows.size() - begin));
    Node highest = kNobody;
    for (const Node row : block) {
      for (const Part& part : table_.OriginOf(row)) highest = std::max(highest, part.place);
    }
    spread.Begin(std::max(highest, highest_column));
    for (std::size_t lane = 0; lane < block.size(); ++lane) {
      AddAnimal(spread, lane, table_, block[lane], 1);
    }
    spread.HandUp(table_.strands, highest);
    spread.HandDown(table_.strands, highest_column);
    for (std::size_t lane = 0; lane < block.size(); ++lane) {
      for (const Node column : columns) {
        const double shared = RelationshipAt(spread, lane, table_, column);
        kinships.push_back((shared + OwnShared(table_, block[lane], column)) / 2);
      }
    }
  }
  return kinships;
}

double Pedigree::KinshipOfSets(std::span<const Node> first, std::span<const Node> second) const {
  if (first.empty() || second.empty()) return 0;
  const double first_part = 1 / static_cast<double>(first.size());
  const double second_part = 1 / static_cast<double>(second.size());
  Spread<2> spread;
  spread.Begin(HighestOf(table_));
  for (const Node animal : first) AddAnimal(spread, 0, table_, animal, first_part);
  for (const Node animal : second) AddAnimal(spread, 1, table_, animal, second_part);
  spread.HandUp(table_.strands, HighestOf(table_));
  double relationship = 0;
  for (Node place = 1; place <= HighestOf(table_); ++place) {
    relationship += spread.at(place)[0] * spread.at(place)[1] * table_.strands[place].own;
  }
  std::vector<Node> both(first.begin(), first.end());
  std::ranges::sort(both);
  for (const Node animal : second) {
    if (!std::ranges::binary_search(both, animal)) continue;
    relationship += OwnShared(table_, animal, animal) * first_part * second_part;
  }
  return relationship / 2;
}

MeanKinship Pedigree::MeanKinshipOf(std::span<const Node> animals) const {
  MeanKinship mean;
  if (animals.empty()) return mean;
  const double part = 1 / static_cast<double>(animals.size());
  Spread<1> spread;
  spread.Begin(HighestOf(table_));
  for (const Node animal : animals) AddAnimal(spread, 0, table_, animal, part);
  spread.HandUp(table_.strands, HighestOf(table_));
  spread.HandDown(table_.strands, HighestOf(table_));
  mean.of_each.reserve(animals.size());
  for (const Node animal : animals) {
    const double shared = RelationshipAt(spread, 0, table_, animal);
    mean.of_each.push_back((shared + OwnShared(table_, animal, animal) * part) / 2);
    mean.overall += mean.of_each.back() * part;
  }
  return mean;
}

absl::StatusOr<Node> Pedigree::AddClutch(const Parents& parents, std::size_t mates) {
  for (const Node parent : {parents.sire, parents.dam}) {
    if (parent != kUnknown && parent >= size()) {
      return Fail(absl::StatusCode::kInvalidArgument, "PARENT_UNKNOWN",
                  fmt::format("a clutch has the parent {}, but the pedigree has {} animals; add "
                              "the parent first",
                              parent, size()));
    }
  }
  Family family;
  if (parents.sire != kUnknown) family.sire = table_.Settle(parents.sire);
  if (parents.dam != kUnknown) family.dam = table_.Settle(parents.dam);
  if (family.sire != kNobody && family.dam != kNobody) {
    family.inbreeding = Kinship(parents.sire, parents.dam);
  }
  const auto number = static_cast<Node>(size());
  Node index = 0;
  if (family.sire != kNobody || family.dam != kNobody) {
    index = static_cast<Node>(table_.families.size());
    table_.families.push_back(family);
  }
  table_.family_of.insert(table_.family_of.end(), mates, index);
  table_.place_of.insert(table_.place_of.end(), mates, kNobody);
  return number;
}

}  // namespace broodpact::kinship
