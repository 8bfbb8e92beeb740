#include "client/survival/log_rank.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace broodpact::survival {
namespace {

struct AtRisk {
  double lives = 0;
  double deaths = 0;
};

AtRisk AtAge(std::span<const Life> lives, double age) {
  AtRisk at;
  for (const Life& life : lives) {
    if (!(life.entry < age && age <= life.exit)) continue;
    ++at.lives;
    if (life.exit == age && life.ending == Ending::kDied) ++at.deaths;
  }
  return at;
}

void AddDeaths(std::span<const Life> lives, std::vector<double>& ages) {
  for (const Life& life : lives) {
    if (life.exit > life.entry && life.ending == Ending::kDied) ages.push_back(life.exit);
  }
}

}  // namespace

std::optional<LogRank> LogRankOf(std::span<const Life> first, std::span<const Life> second) {
  std::vector<double> ages;
  AddDeaths(first, ages);
  AddDeaths(second, ages);
  std::ranges::sort(ages);
  ages.erase(std::unique(ages.begin(), ages.end()), ages.end());

  LogRank test;
  double variance = 0;
  for (const double age : ages) {
    const AtRisk one = AtAge(first, age);
    const AtRisk other = AtAge(second, age);
    const double lives = one.lives + other.lives;
    const double deaths = one.deaths + other.deaths;
    test.first_observed += one.deaths;
    test.second_observed += other.deaths;
    test.first_expected += deaths * one.lives / lives;
    test.second_expected += deaths * other.lives / lives;
    if (lives > 1) {
      variance +=
          deaths * (one.lives / lives) * (other.lives / lives) * (lives - deaths) / (lives - 1);
    }
  }
  if (variance <= 0) return std::nullopt;
  test.chi_square = std::pow(test.first_observed - test.first_expected, 2) / variance;
  // The tail of chi-square with one degree of freedom is twice that of the normal distribution.
  test.probability = std::erfc(std::sqrt(test.chi_square / 2));
  return test;
}

}  // namespace broodpact::survival
