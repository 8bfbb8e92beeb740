#include "client/survival/kaplan_meier.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>

namespace broodpact::survival {
namespace {

// The 97.5 % point of the standard normal distribution: a 95 % interval has it on either side.
constexpr double kNormalQuantile = 1.959963984540054;

// Shares within this of each other are one share that was rounded on two ways.
constexpr double kRounding = 1e-12;

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

// Fills in what follows from `alive` and Greenwood's sum: the variance of log(alive).
void SetInterval(Point& point, double greenwood) {
  if (point.alive <= 0) return;
  point.std_error = point.alive * std::sqrt(greenwood);
  const double log_alive = std::log(point.alive);
  const double width = kNormalQuantile * std::sqrt(greenwood) / log_alive;  // below zero
  point.lower = std::exp(log_alive * std::exp(-width));
  point.upper = std::exp(log_alive * std::exp(width));
}

}  // namespace

Curve FitKaplanMeier(std::span<const Life> lives) {
  const Ages ages = AgesOf(lives);
  Curve curve;
  curve.lives = static_cast<std::uint32_t>(ages.exits.size());
  curve.deaths = static_cast<std::uint32_t>(ages.deaths.size());

  double alive = 1;
  double greenwood = 0;
  for (std::size_t i = 0; i < ages.deaths.size();) {
    Point point{.age = ages.deaths[i]};
    for (; i < ages.deaths.size() && ages.deaths[i] == point.age; ++i) ++point.deaths;
    point.at_risk = CountBelow(ages.entries, point.age) - CountBelow(ages.exits, point.age);

    const double at_risk = point.at_risk;
    const double survivors = at_risk - point.deaths;
    alive *= survivors / at_risk;
    greenwood += point.deaths / (at_risk * survivors);
    point.alive = alive;
    SetInterval(point, greenwood);
    curve.points.push_back(point);
  }
  return curve;
}

double Curve::AliveAt(double age) const {
  const auto after = std::ranges::upper_bound(points, age, {}, &Point::age);
  return after == points.begin() ? 1 : std::prev(after)->alive;
}

std::optional<double> MedianLeft(const Curve& curve, double age) {
  const double half = curve.AliveAt(age) / 2;
  if (half <= 0) return std::nullopt;
  auto point = std::ranges::upper_bound(curve.points, age, {}, &Point::age);
  while (point != curve.points.end() && point->alive > half * (1 + kRounding)) ++point;
  if (point == curve.points.end()) return std::nullopt;

  const auto next = std::next(point);
  const bool stays_at_half = point->alive >= half * (1 - kRounding);
  const bool comes_down = next != curve.points.end();
  const double end = stays_at_half && comes_down ? (point->age + next->age) / 2 : point->age;
  return end - age;
}

}  // namespace broodpact::survival
