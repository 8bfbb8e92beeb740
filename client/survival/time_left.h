#pragma once

// How long still: quantiles of a curve, and the time left for one that has come to an age, each
// with its interval.
//
// Method: a quantile is where the curve comes down to it, and its interval where the two edges of
// the pointwise 95 % band do (Brookmeyer & Crowley, "A confidence interval for the median survival
// time", Biometrics 38 (1982) 29-41, with the log-log band of Kalbfleisch & Prentice, 1980). Time
// left at an age comes from the curve of those who came to it: the later points, each divided by
// the share alive at that age, with Greenwood's sum from there on.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <optional>

#include "client/survival/kaplan_meier.h"

namespace broodpact::survival {

// An age, or a time left, in days. Nothing where the curve, or that edge of its band, does not come
// down so far: what was not seen is not made up.
struct Estimate {
  std::optional<double> days{};
  std::optional<double> lower{};
  std::optional<double> upper{};
};

// The age at which `share_gone` (0 .. 1, both excluded) of all have died. Where the curve stays at
// exactly that level for a while: the middle of that while, as is usual for medians.
Estimate QuantileOf(const Curve& curve, double share_gone, Scale scale);

// The curve of those who came to `age`: its points are the later ones, its lives the most that were
// at risk at any of them. No points where nobody alive was seen to that age.
Curve CurveFrom(const Curve& curve, double age);

// Median days left for one that is alive at `age`, which its interval always holds. Nothing where
// nobody was seen to that age.
Estimate TimeLeft(const Curve& curve, double age);
std::optional<double> MedianLeft(const Curve& curve, double age);

// The chance that one alive at `age` is alive `days` later, with its interval: 0 .. 1, which says
// nothing, where no one died in between, or all did. Nothing at all where nobody alive was seen to
// that age, or none was watched so long. `days` is not below 0.
struct Chance {
  double share = 0;
  double lower = 0;
  double upper = 1;
};
std::optional<Chance> ChanceOfLasting(const Curve& curve, double age, double days);

// Mean days lived up to `days`: the area under the curve, with its standard error (Klein &
// Moeschberger, Survival Analysis, 2nd ed. 2003, section 4.5).
struct Mean {
  double days = 0;
  double std_error = 0;
};
Mean MeanUpTo(const Curve& curve, double days);

}  // namespace broodpact::survival
