#include "client/replica/internal/projection.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace broodpact::replica {
namespace {

constexpr double kTail = 0.1;

using survival::Level;

std::size_t PlaceOf(Level level) {
  return static_cast<std::size_t>(level);
}

// Chance of each number of successes, 0 .. chances.size().
std::vector<double> DistributionOf(std::span<const double> chances) {
  std::vector<double> distribution{1};
  for (const double chance : chances) {
    distribution.push_back(0);
    for (std::size_t k = distribution.size() - 1; k > 0; --k) {
      distribution[k] = distribution[k] * (1 - chance) + distribution[k - 1] * chance;
    }
    distribution[0] *= 1 - chance;
  }
  return distribution;
}

}  // namespace

Expected ExpectedAlive(std::span<const double> chances) {
  Expected expected;
  for (const double chance : chances) expected.males += chance;
  const std::vector<double> distribution = DistributionOf(chances);
  expected.none = distribution[0];
  double below = 0;
  bool has_lower = false;
  for (std::uint32_t k = 0; k < distribution.size(); ++k) {
    below += distribution[k];
    if (!has_lower && below > kTail) {
      expected.lower = k;
      has_lower = true;
    }
    expected.upper = k;
    if (below >= 1 - kTail) break;
  }
  return expected;
}

MalesAhead::MalesAhead(survival::Evidence evidence, std::span<const double> ages)
    : evidence_(std::move(evidence)), ages_(ages.begin(), ages.end()), chances_(ages.size(), 1) {}

double MalesAhead::ChanceOf(double age, double days) {
  for (const Level level : {Level::kGroup, Level::kGenus}) {
    const survival::Curve& curve = level == Level::kGroup ? evidence_.group : evidence_.genus;
    if (!survival::Suffices(curve)) continue;
    const auto chance = survival::ChanceOfLasting(curve, age, days);
    if (!chance) continue;
    used_[PlaceOf(level)] = true;
    return chance->share;
  }
  const auto chance =
      survival::ChanceOfLasting(survival::Evidence{.prior = evidence_.prior}, age, days);
  if (!chance) return 0;
  used_[PlaceOf(Level::kPrior)] = true;
  return *chance;
}

const std::vector<double>& MalesAhead::ChancesIn(double days) {
  for (std::size_t i = 0; i < ages_.size(); ++i) {
    chances_[i] = std::min(chances_[i], ChanceOf(ages_[i], days));
  }
  return chances_;
}

std::string MalesAhead::Basis() const {
  std::string basis;
  const auto add = [&](Level level, const std::string& what) {
    if (used_[PlaceOf(level)]) basis += (basis.empty() ? "" : "; beyond that ") + what;
  };
  const auto counted = [](const survival::Curve& curve) {
    return fmt::format("{} lives, {} ended", curve.lives, curve.deaths);
  };
  add(Level::kGroup, "group: " + counted(evidence_.group));
  add(Level::kGenus, "genus: " + counted(evidence_.genus));
  if (evidence_.prior) {
    add(Level::kPrior, fmt::format("prior, {}: {:.0f} to {:.0f} days ({})",
                                   survival::ToText(evidence_.prior->trust), evidence_.prior->low,
                                   evidence_.prior->high, evidence_.prior->sources));
  }
  return basis;
}

}  // namespace broodpact::replica
