// Makes the table of a pedigree: gives places to breeders and stand-ins, and families to all.

#include <algorithm>
#include <iterator>
#include <span>
#include <string>
#include <tuple>

#include <fmt/ranges.h>

#include "client/base/status.h"
#include "client/kinship/internal/table.h"
#include "client/kinship/order.h"

namespace broodpact::kinship {
namespace {

constexpr double kRounding = 1e-9;  // by which weights may miss the sum of 1

absl::Status BadLines(const char* reason, const std::string& message) {
  return Fail(absl::StatusCode::kInvalidArgument, reason, message);
}

// What will have a place, numbered before the places are known. Rows of animals come first, by
// their numbers.
struct Rows {
  std::vector<Parents> links{};  // rows that each is from
  std::vector<Strand> parts{};   // first_part, second_part; own of bases
  std::vector<PlaceKind> kinds{};
  std::vector<Node> animals{};  // kUnknown where the row is no animal's
  std::vector<Node> row_of{};   // by number of the animal; kUnknown: none

  Node Add(PlaceKind kind, Node animal) {
    links.emplace_back();
    parts.emplace_back();
    kinds.push_back(kind);
    animals.push_back(animal);
    return static_cast<Node>(links.size() - 1);
  }
};

absl::Status CheckStandIns(const Lines& lines) {
  const std::size_t count = lines.animals.size();
  for (const StandIn& stand_in : lines.stand_ins) {
    if (stand_in.node >= count || !(lines.animals[stand_in.node] == Parents{})) {
      return BadLines("STAND_IN_WRONG", fmt::format("{} stands in for a sire, but is no number of "
                                                    "the pedigree or has parents itself",
                                                    stand_in.node));
    }
    double sum = 0;
    for (const PossibleSire& sire : stand_in.possible) {
      if (sire.animal >= count) {
        return BadLines("PARENT_UNKNOWN",
                        fmt::format("possible sire {} of stand-in {} is past the end of the "
                                    "pedigree, {}; add it or leave it out",
                                    sire.animal, stand_in.node, count));
      }
      if (!(sire.weight >= 0)) sum = 2;
      sum += sire.weight;
    }
    if (!(sum <= 1 + kRounding)) {
      return BadLines("WEIGHTS_WRONG", fmt::format("the weights of the possible sires of stand-in "
                                                   "{} are negative or sum to more than 1",
                                                   stand_in.node));
    }
  }
  return absl::OkStatus();
}

absl::Status CheckRelated(const Lines& lines) {
  std::vector<char> seen(lines.animals.size());
  for (const StandIn& stand_in : lines.stand_ins) seen[stand_in.node] = 1;
  for (const RelatedFounders& related : lines.related) {
    if (!(related.kinship >= 0 && related.kinship <= 0.5)) {
      return BadLines("BASE_KINSHIP_WRONG", fmt::format("founders cannot have the kinship {}; it "
                                                        "is 0 to 0.5",
                                                        related.kinship));
    }
    for (const Node founder : related.founders) {
      if (founder >= seen.size() || seen[founder] != 0 || !(lines.animals[founder] == Parents{})) {
        return BadLines(
            "FOUNDER_WRONG",
            fmt::format("{} is no founder, or is related to two sets of founders", founder));
      }
      seen[founder] = 1;
    }
  }
  return absl::OkStatus();
}

// Gives rows to all who have offspring, and to founders that are related.
Rows RowsOfBreeders(const Lines& lines) {
  Rows rows;
  std::vector<char> breeds(lines.animals.size());
  for (const Parents& parents : lines.animals) {
    if (parents.sire != kUnknown) breeds[parents.sire] = 1;
    if (parents.dam != kUnknown) breeds[parents.dam] = 1;
  }
  for (const StandIn& stand_in : lines.stand_ins) {
    breeds[stand_in.node] = 1;
    for (const PossibleSire& sire : stand_in.possible) breeds[sire.animal] = 1;
  }
  for (const RelatedFounders& related : lines.related) {
    for (const Node founder : related.founders) breeds[founder] = 1;
  }
  rows.row_of.assign(breeds.size(), kUnknown);
  for (std::size_t i = 0; i < breeds.size(); ++i) {
    const auto animal = static_cast<Node>(i);
    if (breeds[i] != 0) rows.row_of[i] = rows.Add(PlaceKind::kAnimal, animal);
  }
  for (std::size_t row = 0; row < rows.links.size(); ++row) {
    const Parents& parents = lines.animals[rows.animals[row]];
    if (parents.sire != kUnknown) rows.links[row].sire = rows.row_of[parents.sire];
    if (parents.dam != kUnknown) rows.links[row].dam = rows.row_of[parents.dam];
  }
  return rows;
}

// Links a stand-in to its possible sires: the first by its weight, the others by a row of theirs
// that stands for the rest, and so on until two are left.
void LinkStandIn(Rows& rows, const StandIn& stand_in) {
  std::vector<PossibleSire> possible;
  std::ranges::copy_if(stand_in.possible, std::back_inserter(possible),
                       [](const PossibleSire& sire) { return sire.weight > 0; });
  Node row = rows.row_of[stand_in.node];
  rows.animals[row] = kUnknown;
  rows.kinds[row] =
      stand_in.draw == Draw::kOneForAll ? PlaceKind::kOneForAll : PlaceKind::kOneForEach;
  double left = 1;  // chance that it is none of those before
  for (std::size_t i = 0; i < possible.size(); ++i) {
    const double first_part = possible[i].weight / left;
    rows.links[row].sire = rows.row_of[possible[i].animal];
    rows.parts[row].first_part = first_part;
    if (i + 2 == possible.size()) {
      rows.links[row].dam = rows.row_of[possible[i + 1].animal];
      rows.parts[row].second_part = possible[i + 1].weight / left;
      break;
    }
    if (i + 1 == possible.size()) break;
    left -= possible[i].weight;
    const Node rest = rows.Add(PlaceKind::kRest, kUnknown);
    rows.links[row].dam = rest;
    rows.parts[row].second_part = 1 - first_part;
    row = rest;
  }
}

void LinkRelated(Rows& rows, const RelatedFounders& related) {
  if (related.kinship == 0) return;
  const Node base = rows.Add(PlaceKind::kBase, kUnknown);
  rows.parts[base].own = 2 * related.kinship;
  for (const Node founder : related.founders) {
    rows.links[rows.row_of[founder]].sire = base;
    rows.parts[rows.row_of[founder]].first_part = 1;
  }
}

absl::Status CycleError(const Rows& rows) {
  std::vector<Node> line;
  for (const Node row : CycleIn(rows.links)) {
    if (rows.animals[row] != kUnknown) line.push_back(rows.animals[row]);
  }
  std::ranges::rotate(line, std::ranges::min_element(line));
  return BadLines("PEDIGREE_CYCLE",
                  fmt::format("animal {} is its own ancestor, by the line {}; correct a sire or "
                              "dam in it",
                              line.front(), fmt::join(line, ", ")));
}

// Moves the rows to their places. Returns the level of each place.
std::vector<Node> TakePlaces(const Rows& rows, const std::vector<Node>& order, Table& table) {
  const std::size_t places = order.size() + 1;
  std::vector<Node> place_of_row(order.size());
  for (std::size_t i = 0; i < order.size(); ++i) place_of_row[order[i]] = static_cast<Node>(i + 1);
  const auto place_of = [&](Node row) { return row == kUnknown ? kNobody : place_of_row[row]; };
  std::vector<Node> levels(places);
  table.strands.reserve(places);
  table.strands.emplace_back();
  table.kinds.push_back(PlaceKind::kAnimal);
  table.animals.push_back(kUnknown);
  for (const Node row : order) {
    Strand strand = rows.parts[row];
    strand.first = place_of(rows.links[row].sire);
    strand.second = place_of(rows.links[row].dam);
    const std::size_t place = table.strands.size();
    for (const Node from : {strand.first, strand.second}) {
      if (from != kNobody) levels[place] = std::max(levels[place], levels[from] + 1);
    }
    table.strands.push_back(strand);
    table.kinds.push_back(rows.kinds[row]);
    table.animals.push_back(rows.animals[row]);
  }
  table.selves.assign(places, 0);
  table.place_of.resize(rows.row_of.size());
  std::ranges::transform(rows.row_of, table.place_of.begin(), place_of);
  return levels;
}

// Finds who has the same parents. Clutch-mates mostly stand together in the input, so that few
// pairs are left to be sorted.
void FindFamilies(const Lines& lines, const std::vector<Node>& levels, Table& table) {
  struct Found {
    Node level = 0;
    Family family{};
    Node run = 0;
  };
  std::vector<Found> runs(1);
  const auto place_of = [&](Node animal) {
    return animal == kUnknown ? kNobody : table.place_of[animal];
  };
  table.family_of.resize(lines.animals.size());
  for (std::size_t i = 0; i < lines.animals.size(); ++i) {
    const Family family{.sire = place_of(lines.animals[i].sire),
                        .dam = place_of(lines.animals[i].dam)};
    if (family.sire == kNobody && family.dam == kNobody) continue;
    if (family.sire != runs.back().family.sire || family.dam != runs.back().family.dam) {
      runs.push_back({.level = std::max(levels[family.sire], levels[family.dam]) + 1,
                      .family = family,
                      .run = static_cast<Node>(runs.size())});
    }
    table.family_of[i] = static_cast<Node>(runs.size() - 1);
  }
  const auto rank = [](const Found& found) {
    return std::tuple(found.level, found.family.sire, found.family.dam);
  };
  std::ranges::sort(runs, {}, rank);
  std::vector<Node> family_of_run(runs.size());
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (i == 0 || rank(runs[i]) != rank(runs[i - 1])) table.families.push_back(runs[i].family);
    family_of_run[runs[i].run] = static_cast<Node>(table.families.size() - 1);
  }
  for (Node& family : table.family_of) family = family_of_run[family];
}

// Leaves room for clutches to come, so that the next one does not move a million animals.
void ReserveForClutches(Table& table) {
  const auto with_slack = [](std::size_t size) { return size + size / 8 + 4'096; };
  table.strands.reserve(with_slack(table.strands.size()));
  table.selves.reserve(with_slack(table.selves.size()));
  table.kinds.reserve(with_slack(table.kinds.size()));
  table.animals.reserve(with_slack(table.animals.size()));
  table.families.reserve(with_slack(table.families.size()));
  table.family_of.reserve(with_slack(table.family_of.size()));
  table.place_of.reserve(with_slack(table.place_of.size()));
}

}  // namespace

absl::StatusOr<Table> TableOf(const Lines& lines) {
  BP_RETURN_IF_ERROR(CheckParents(lines.animals));
  BP_RETURN_IF_ERROR(CheckStandIns(lines));
  BP_RETURN_IF_ERROR(CheckRelated(lines));
  Rows rows = RowsOfBreeders(lines);
  for (const StandIn& stand_in : lines.stand_ins) LinkStandIn(rows, stand_in);
  for (const RelatedFounders& related : lines.related) LinkRelated(rows, related);
  const auto order = OrderByGeneration(rows.links);
  if (!order.ok()) return CycleError(rows);

  Table table;
  const std::vector<Node> levels = TakePlaces(rows, *order, table);
  FindFamilies(lines, levels, table);
  FillInbreeding(table, levels);
  ReserveForClutches(table);
  return table;
}

}  // namespace broodpact::kinship
