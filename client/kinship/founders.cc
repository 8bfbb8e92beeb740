#include "client/kinship/founders.h"

#include <algorithm>
#include <map>
#include <tuple>

#include "client/kinship/internal/spread.h"

namespace broodpact::kinship {
namespace {

// Gathers who gave which part, while the places are gone through.
class Gatherer {
 public:
  void Known(Node founder, double part) {
    if (part <= 0) return;
    founders_.known.push_back({.founder = founder, .part = part});
    squares_ += part * part;
  }

  void Unknown(double part) {
    founders_.unknown += part;
    squares_ += part * part;
  }

  Founders Take() {
    std::ranges::sort(founders_.known, {}, [](const Contribution& contribution) {
      return std::tuple(-contribution.part, contribution.founder);
    });
    founders_.equivalents = squares_ > 0 ? 1 / squares_ : 0;
    return std::move(founders_);
  }

 private:
  Founders founders_;
  double squares_ = 0;
};

// What came to a place and from nobody with a place before it.
void GatherPlace(Gatherer& gatherer, const Table& table, Node place, double part) {
  const Strand& strand = table.strands[place];
  const double first = strand.first == kNobody ? 0 : strand.first_part;
  const double second = strand.second == kNobody ? 0 : strand.second_part;
  switch (table.kinds[place]) {
    case PlaceKind::kBase:
      return;
    case PlaceKind::kAnimal:
      if (first + second == 0 || table.kinds[strand.first] == PlaceKind::kBase) {
        gatherer.Known(table.animals[place], part);
        return;
      }
      break;
    case PlaceKind::kOneForAll:
    case PlaceKind::kOneForEach:
    case PlaceKind::kRest:
      break;
  }
  gatherer.Unknown(part * std::max(0.0, 1 - first - second));
}

}  // namespace

Founders FoundersOf(const Pedigree& pedigree, std::span<const Node> population) {
  if (population.empty()) return {};
  const Table& table = pedigree.table();
  const auto highest = static_cast<Node>(table.strands.size() - 1);
  const double part = 1 / static_cast<double>(population.size());
  Gatherer gatherer;
  Spread<1> spread;
  spread.Begin(highest);
  for (const Node animal : population) {
    if (table.place_of[animal] == kNobody && table.family_of[animal] == 0) {
      gatherer.Known(animal, part);
      continue;
    }
    for (const Part& origin : table.OriginOf(animal)) {
      if (origin.part == 0) continue;
      if (origin.place == kNobody) gatherer.Unknown(origin.part * part);
      spread.Add(0, {.place = origin.place, .part = origin.part * part});
    }
  }
  spread.HandUp(table.strands, highest);
  for (Node place = 1; place <= highest; ++place) {
    if (spread.at(place)[0] > 0) GatherPlace(gatherer, table, place, spread.at(place)[0]);
  }
  return gatherer.Take();
}

double GeneDiversity(const MeanKinship& kinship) {
  return 1 - kinship.overall;
}

double GenomeEquivalentsByKinship(const MeanKinship& kinship) {
  return kinship.overall > 0 ? 1 / (2 * kinship.overall) : 0;
}

double GenomeEquivalentsByRetention(const Founders& founders,
                                    std::span<const Retention> retention) {
  std::map<Node, double> retained;
  for (const Retention& one : retention) retained.emplace(one.founder, one.part);
  double sum = 0;
  for (const Contribution& contribution : founders.known) {
    const auto found = retained.find(contribution.founder);
    if (found == retained.end() || found->second <= 0) return 0;
    sum += contribution.part * contribution.part / found->second;
  }
  return sum > 0 ? 1 / sum : 0;
}

double GenomesSurviving(std::span<const Retention> retention) {
  double sum = 0;
  for (const Retention& one : retention) sum += one.part;
  return sum;
}

}  // namespace broodpact::kinship
