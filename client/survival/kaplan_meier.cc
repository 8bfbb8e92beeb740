#include "client/survival/kaplan_meier.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>

namespace broodpact::survival {
namespace {

// The 97.5 % point of the standard normal distribution: a 95 % interval has it on either side.
constexpr double kNormalQuantile = 1.959963984540054;

// The ages at which something happens, each list in order.
struct Ages {
  std::vector<double> entries;
  std::vector<double> exits;
  std::vector<double> deaths;
};

Ages AgesOf(std::span<const Life> lives) {
  Ages ages;
  for (const Life& life : lives) {
    if (!(life.exit > life.entry)) continue;
    ages.entries.push_back(life.entry);
    ages.exits.push_back(life.exit);
    if (life.ending == Ending::kDied) ages.deaths.push_back(life.exit);
  }
  std::ranges::sort(ages.entries);
  std::ranges::sort(ages.exits);
  std::ranges::sort(ages.deaths);
  return ages;
}

// How many of `ages` lie below `age`.
std::uint32_t CountBelow(const std::vector<double>& ages, double age) {
  return static_cast<std::uint32_t>(std::ranges::lower_bound(ages, age) - ages.begin());
}

}  // namespace

Interval IntervalOf(const Point& point, Scale scale) {
  if (point.alive <= 0) return {};
  const double width = kNormalQuantile * std::sqrt(point.greenwood);
  switch (scale) {
    case Scale::kPlain:
      return {.lower = std::max(0.0, point.alive * (1 - width)),
              .upper = std::min(1.0, point.alive * (1 + width))};
    case Scale::kLog:
      return {.lower = point.alive * std::exp(-width),
              .upper = std::min(1.0, point.alive * std::exp(width))};
    case Scale::kLogLog:
      break;
  }
  const double log_alive = std::log(point.alive);  // below zero: something died
  return {.lower = std::exp(log_alive * std::exp(-width / log_alive)),
          .upper = std::exp(log_alive * std::exp(width / log_alive))};
}

Curve FitKaplanMeier(std::span<const Life> lives) {
  const Ages ages = AgesOf(lives);
  Curve curve;
  curve.lives = static_cast<std::uint32_t>(ages.exits.size());
  curve.deaths = static_cast<std::uint32_t>(ages.deaths.size());
  if (!ages.exits.empty()) curve.seen_to = ages.exits.back();

  double alive = 1;
  double greenwood = 0;
  double hazard = 0;
  double hazard_variance = 0;
  for (std::size_t i = 0; i < ages.deaths.size();) {
    Point point{.age = ages.deaths[i]};
    for (; i < ages.deaths.size() && ages.deaths[i] == point.age; ++i) ++point.deaths;
    point.at_risk = CountBelow(ages.entries, point.age) - CountBelow(ages.exits, point.age);

    const double at_risk = point.at_risk;
    const double survivors = at_risk - point.deaths;
    alive *= survivors / at_risk;
    greenwood += point.deaths / (at_risk * survivors);
    hazard += point.deaths / at_risk;
    hazard_variance += point.deaths / (at_risk * at_risk);
    point.alive = alive;
    point.hazard = hazard;
    point.hazard_std_error = std::sqrt(hazard_variance);
    if (alive > 0) {
      point.greenwood = greenwood;
      point.std_error = alive * std::sqrt(greenwood);
    }
    const Interval interval = IntervalOf(point, Scale::kLogLog);
    point.lower = interval.lower;
    point.upper = interval.upper;
    curve.points.push_back(point);
  }
  return curve;
}

double Curve::AliveAt(double age) const {
  const auto after = std::ranges::upper_bound(points, age, {}, &Point::age);
  return after == points.begin() ? 1 : std::prev(after)->alive;
}

}  // namespace broodpact::survival
