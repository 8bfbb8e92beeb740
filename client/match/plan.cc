#include "client/match/plan.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <span>
#include <utility>

#include "client/base/check.h"
#include "client/match/assignment.h"

namespace broodpact::match {
namespace {

constexpr std::uint32_t kKmStep = 10;
// A distance that is not known counts as far: half the way round the earth.
constexpr std::uint32_t kKmUnknown = 20'040;

std::uint32_t StepsOf(std::optional<std::uint32_t> km) {
  return std::min(km.value_or(kKmUnknown) / kKmStep, kPairBurdenMax);
}

double MeanOf(const std::vector<double>& kinship, std::span<const kinship::Node> nodes) {
  double sum = 0;
  for (const kinship::Node node : nodes) sum += kinship[node];
  return nodes.empty() ? 0 : sum / static_cast<double>(nodes.size());
}

template <typename Animal>
std::vector<Animal> ById(std::vector<Animal> animals) {
  std::ranges::sort(animals, {}, &Animal::animal);
  return animals;
}

enum class Reach { kEverybody, kOwnHolder };

// All pairs of a season, with what each would be worth. Animals are in order of id.
class Table {
 public:
  explicit Table(const Season& season)
      : season_(season),
        males_(ById(season.males)),
        females_(ById(season.females)),
        pairs_(males_.size() * females_.size()) {
    Weigh(KinshipOfAll());
  }

  const Obstacles& obstacles() const { return obstacles_; }

  Planned Best(Reach reach) const {
    Market market;
    for (const PlanMale& male : males_) market.male_capacities.push_back(male.capacity);
    market.female_capacities.assign(females_.size(), 1);
    market.worths.reserve(pairs_.size());
    market.burdens.reserve(pairs_.size());
    for (const PlannedPair& pair : pairs_) {
      const bool may_be = reach == Reach::kEverybody || !pair.travels;
      market.worths.push_back(may_be ? MillionthsOf(pair) : kForbidden);
      market.burdens.push_back(pair.travels ? StepsOf(pair.km) : 0);
    }
    Planned planned;
    for (const Pair& pair : BestPairs(market)) {
      Take(pair.male * females_.size() + pair.female, planned);
    }
    return Summed(std::move(planned));
  }

  Planned Nearest() const {
    // Distance, female and male in one number, so that a million pairs are sorted quickly.
    std::vector<std::uint64_t> order;
    for (std::size_t at = 0; at < pairs_.size(); ++at) {
      if (MillionthsOf(pairs_[at]) <= 0) continue;
      const std::uint64_t steps = pairs_[at].travels ? 1 + StepsOf(pairs_[at].km) : 0;
      order.push_back(steps << 32U | (at % females_.size()) << 16U | at / females_.size());
    }
    std::ranges::sort(order);
    std::vector<std::uint32_t> turns(males_.size());
    std::vector<bool> taken(females_.size());
    Planned planned;
    for (const std::uint64_t next : order) {
      const std::size_t female = next >> 16U & 0xFFFFU;
      const std::size_t male = next & 0xFFFFU;
      if (taken[female] || turns[male] >= males_[male].capacity) continue;
      taken[female] = true;
      ++turns[male];
      Take(male * females_.size() + female, planned);
    }
    return Summed(std::move(planned));
  }

 private:
  // The kinship of every male with every female, and what a pair's own animals bring.
  struct Kinships {
    std::vector<double> of_pairs;    // by pair
    std::vector<double> male_means;  // with the living
    std::vector<double> female_means;
  };

  Kinships KinshipOfAll() const {
    Kinships all;
    all.of_pairs.reserve(pairs_.size());
    for (const PlanMale& male : males_) {
      const std::vector<double> kinship = season_.pedigree.KinshipWithAll(male.node);
      all.male_means.push_back(MeanOf(kinship, season_.living));
      for (const PlanFemale& female : females_) all.of_pairs.push_back(kinship[female.node]);
    }
    for (const PlanFemale& female : females_) {
      all.female_means.push_back(
          MeanOf(season_.pedigree.KinshipWithAll(female.node), season_.living));
    }
    return all;
  }

  double SelfKinship(kinship::Node node) const {
    return (1 + season_.pedigree.Inbreeding(node)) / 2;
  }

  // How many sacs may be planned: a sib is met as often as this is small.
  double SacsPlanned() const {
    std::uint64_t turns = 0;
    for (const PlanMale& male : males_) turns += male.capacity;
    return static_cast<double>(
        std::max<std::uint64_t>(1, std::min<std::uint64_t>(turns, females_.size())));
  }

  void Weigh(const Kinships& all) {
    const double sacs_planned = SacsPlanned();
    obstacles_.pairs = pairs_.size();
    for (std::size_t i = 0; i < males_.size(); ++i) {
      const PlanMale& male = males_[i];
      for (std::size_t j = 0; j < females_.size(); ++j) {
        const PlanFemale& female = females_[j];
        const double inbreeding = all.of_pairs[i * females_.size() + j];
        const double sibs =
            (SelfKinship(male.node) + SelfKinship(female.node) + 2 * inbreeding) / 4;
        const double living = (all.male_means[i] + all.female_means[j]) / 2;
        const double kinship = sibs / sacs_planned + living * (1 - 1 / sacs_planned);
        PlannedPair& pair = pairs_[i * females_.size() + j];
        pair = {.male = male.animal,
                .female = female.animal,
                .sacs = male.lasting * female.sac_chance,
                .inbreeding = inbreeding,
                .gene_diversity = std::clamp(1 - kinship, 0.0, 1.0),
                .travels = male.holder != female.holder};
        Judge(season_.journey(male, female), pair);
      }
    }
  }

  // Counts why a pair must not be, and takes its worth away.
  void Judge(const Journey& journey, PlannedPair& pair) {
    pair.km = pair.travels ? journey.km : std::optional<std::uint32_t>(0);
    if (!journey.vetoed) {
      obstacles_.inbreeding_min =
          std::min(obstacles_.inbreeding_min.value_or(pair.inbreeding), pair.inbreeding);
    }
    const PlanBounds& bounds = season_.bounds;
    const bool is_far =
        pair.travels && bounds.distance_km_max && pair.km && *pair.km > *bounds.distance_km_max;
    const bool is_inbred = bounds.inbreeding_max && pair.inbreeding > *bounds.inbreeding_max;
    if (journey.vetoed) {
      ++obstacles_.vetoed;
    } else if (is_inbred) {
      ++obstacles_.inbred;
    } else if (is_far) {
      ++obstacles_.far;
    } else if (MillionthsOf(pair) <= 0) {
      ++obstacles_.hopeless;
    }
    if (journey.vetoed || is_inbred || is_far) pair.sacs = 0;
  }

  static std::int64_t MillionthsOf(const PlannedPair& pair) {
    return std::llround(pair.sacs * pair.gene_diversity * static_cast<double>(kPairWorthMax));
  }

  void Take(std::size_t at, Planned& planned) const { planned.pairs.push_back(pairs_[at]); }

  Planned Summed(Planned planned) const {
    std::ranges::sort(planned.pairs, {},
                      [](const PlannedPair& pair) { return std::pair(pair.male, pair.female); });
    double inbreeding = 0;
    for (const PlannedPair& pair : planned.pairs) {
      planned.sacs += pair.sacs;
      planned.worth += pair.sacs * pair.gene_diversity;
      inbreeding += pair.sacs * pair.inbreeding;
      if (!pair.travels) continue;
      ++planned.journeys;
      planned.km += pair.km.value_or(0);
    }
    if (planned.sacs > 0) {
      planned.inbreeding = inbreeding / planned.sacs;
      planned.gene_diversity = 1 - MeanKinshipOfOffspring(planned);
    }
    return planned;
  }

  // Two offspring drawn at random, from sacs in proportion to what is expected of each: the kinship
  // of two gametes of their parents, each parent weighing half of its sacs.
  double MeanKinshipOfOffspring(const Planned& planned) const {
    std::map<AnimalId, double> parts;
    for (const PlannedPair& pair : planned.pairs) {
      parts[pair.male] += pair.sacs / planned.sacs / 2;
      parts[pair.female] += pair.sacs / planned.sacs / 2;
    }
    std::vector<std::pair<kinship::Node, double>> parents;
    const auto add = [&](const auto& animals) {
      for (const auto& animal : animals) {
        const auto part = parts.find(animal.animal);
        if (part != parts.end()) parents.emplace_back(animal.node, part->second);
      }
    };
    add(males_);
    add(females_);
    double mean = 0;
    for (const auto& [node, part] : parents) {
      const std::vector<double> kinship = season_.pedigree.KinshipWithAll(node);
      for (const auto& [other, other_part] : parents) mean += part * other_part * kinship[other];
    }
    return mean;
  }

  const Season& season_;
  std::vector<PlanMale> males_;
  std::vector<PlanFemale> females_;
  std::vector<PlannedPair> pairs_;  // a row for each male
  Obstacles obstacles_;
};

}  // namespace

PlanAnswer PlanSeason(const Season& season) {
  BP_CHECK(season.males.size() <= kMarketMax && season.females.size() <= kMarketMax);
  const Table table(season);
  return {.plan = table.Best(Reach::kEverybody),
          .no_exchange = table.Best(Reach::kOwnHolder),
          .nearest = table.Nearest(),
          .obstacles = table.obstacles()};
}

}  // namespace broodpact::match
