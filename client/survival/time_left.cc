#include "client/survival/time_left.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <iterator>
#include <span>
#include <vector>

namespace broodpact::survival {
namespace {

// Shares within this of each other are one share that was rounded on two ways.
constexpr double kRounding = 1e-12;

// Where `edge` of the points comes down to `level`. Where few are at risk at first and many enter
// late, the edge of a band may lie below the level, rise, and come down again: of the points at or
// below the level the one nearest to it is taken, as R's survival package does (survfit's
// quantiles).
std::optional<double> AgeAtLevel(std::span<const Point> points, double level,
                                 const std::function<double(const Point&)>& edge) {
  auto at = points.end();
  for (auto point = points.begin(); point != points.end(); ++point) {
    if (edge(*point) > level * (1 + kRounding)) continue;
    if (at == points.end() || edge(*point) > edge(*at)) at = point;
  }
  if (at == points.end()) return std::nullopt;
  const bool stays = edge(*at) >= level * (1 - kRounding);
  const auto next = std::find_if(std::next(at), points.end(), [&](const Point& point) {
    return edge(point) < level * (1 - kRounding);
  });
  return stays && next != points.end() ? (at->age + next->age) / 2 : at->age;
}

std::optional<double> Since(const std::optional<double>& age, double start) {
  return age ? std::optional(*age - start) : std::nullopt;
}

}  // namespace

Estimate QuantileOf(const Curve& curve, double share_gone, Scale scale) {
  const double level = 1 - share_gone;
  const std::span<const Point> points = curve.points;
  return {.days = AgeAtLevel(points, level, [](const Point& point) { return point.alive; }),
          .lower = AgeAtLevel(points, level,
                              [&](const Point& point) { return IntervalOf(point, scale).lower; }),
          .upper = AgeAtLevel(points, level,
                              [&](const Point& point) { return IntervalOf(point, scale).upper; })};
}

Curve CurveFrom(const Curve& curve, double age) {
  Curve rest{.lives = 0, .deaths = 0, .seen_to = curve.seen_to};
  if (age >= curve.seen_to) return rest;
  const auto after = std::ranges::upper_bound(curve.points, age, {}, &Point::age);
  Point before;
  if (after != curve.points.begin()) before = *std::prev(after);
  if (before.alive <= 0) return rest;
  rest.points.assign(after, curve.points.end());
  for (Point& point : rest.points) {
    point.alive /= before.alive;
    rest.deaths += point.deaths;
    rest.lives = std::max(rest.lives, point.at_risk);
    point.hazard -= before.hazard;
    point.hazard_std_error = std::sqrt(
        std::max(0.0, std::pow(point.hazard_std_error, 2) - std::pow(before.hazard_std_error, 2)));
    if (point.alive > 0) {
      point.greenwood -= before.greenwood;
      point.std_error = point.alive * std::sqrt(point.greenwood);
    }
    const Interval interval = IntervalOf(point, Scale::kLogLog);
    point.lower = interval.lower;
    point.upper = interval.upper;
  }
  return rest;
}

Estimate TimeLeft(const Curve& curve, double age) {
  Estimate end = QuantileOf(CurveFrom(curve, age), 0.5, Scale::kLogLog);
  // Where many enter late, the lower edge may come down early, rise, and be nearest to the half
  // past the median. The median is one of the ages that the band does not rule out.
  if (end.lower && end.days) end.lower = std::min(*end.lower, *end.days);
  return {
      .days = Since(end.days, age), .lower = Since(end.lower, age), .upper = Since(end.upper, age)};
}

std::optional<double> MedianLeft(const Curve& curve, double age) {
  return TimeLeft(curve, age).days;
}

std::optional<Chance> ChanceOfLasting(const Curve& curve, double age, double days) {
  if (age + days > curve.seen_to || curve.AliveAt(age) <= 0) return std::nullopt;
  const Curve rest = CurveFrom(curve, age);
  const auto after = std::ranges::upper_bound(rest.points, age + days, {}, &Point::age);
  if (after == rest.points.begin()) return Chance{.share = 1};
  const Point& point = *std::prev(after);
  return Chance{.share = point.alive, .lower = point.lower, .upper = point.upper};
}

Mean MeanUpTo(const Curve& curve, double days) {
  Mean mean;
  // From the end: the area to the right of each death is what that death could have changed.
  double variance = 0;
  double right = days;
  for (std::size_t i = curve.points.size(); i-- > 0;) {
    const Point& point = curve.points[i];
    if (point.age >= days) continue;
    mean.days += (right - point.age) * point.alive;
    right = point.age;
    const double survivors = point.at_risk - point.deaths;
    if (survivors > 0) {
      variance += mean.days * mean.days * point.deaths / (point.at_risk * survivors);
    }
  }
  mean.days += right;
  mean.std_error = std::sqrt(variance);
  return mean;
}

}  // namespace broodpact::survival
