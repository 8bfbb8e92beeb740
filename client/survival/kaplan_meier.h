#pragma once

// How long males live after maturity: the share still alive at each age, from lives that ended and
// lives that go on.
//
// Method: product limit (Kaplan & Meier, "Nonparametric estimation from incomplete observations",
// J. Am. Stat. Assoc. 53 (1958) 457-481) with variance by Greenwood (1926) and log-log intervals
// (Kalbfleisch & Prentice, 1980). Animals that enter observation late count as at risk from then
// on. One that leaves observation at the age at which another dies was still at risk of it.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstdint>
#include <span>
#include <vector>

namespace broodpact::survival {

enum class Ending : std::uint8_t { kStillAlive, kDied };

// One life, in days since its beginning: at risk at every age above entry and up to exit. Lives
// with exit <= entry carry nothing and are left out.
struct Life {
  double entry = 0;  // age at which observation began
  double exit = 0;   // age at which it ended
  Ending ending = Ending::kStillAlive;
};

// The curve at one age at which something died.
struct Point {
  double age = 0;
  std::uint32_t at_risk = 0;
  std::uint32_t deaths = 0;
  double alive = 1;      // share alive just after this age, 0 .. 1
  double greenwood = 0;  // sum of deaths / (at risk * survivors): the variance of log(alive)
  double std_error = 0;  // of `alive`, Greenwood; 0 once none is alive, where it is not defined
  double lower = 0;      // 95 % interval of `alive`, log-log; 0 and 1 once none is alive
  double upper = 1;
  double hazard = 0;            // summed, Nelson-Aalen
  double hazard_std_error = 0;  // by the sum of deaths / (at risk squared)
};

// How an interval is drawn around the share alive: on its own scale, that of its logarithm, or that
// of log(-log). The house uses the last, which stays within 0 .. 1 and is best with few lives.
enum class Scale : std::uint8_t { kPlain, kLog, kLogLog };

struct Interval {
  double lower = 0;
  double upper = 1;
};

// The 95 % interval of the share alive at a point; 0 .. 1 once none is alive. Cut off at 0 and 1.
Interval IntervalOf(const Point& point, Scale scale);

struct Curve {
  std::vector<Point> points{};  // by age
  std::uint32_t lives = 0;
  std::uint32_t deaths = 0;
  double seen_to = 0;  // the greatest age at which anyone was watched

  // The share alive at an age: 1 before the first point.
  double AliveAt(double age) const;
};

// Fits the curve. The order of the lives does not matter. No deaths: no points.
Curve FitKaplanMeier(std::span<const Life> lives);

}  // namespace broodpact::survival
