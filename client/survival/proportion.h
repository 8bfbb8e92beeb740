#pragma once

// What a few cases say: a share of so many, or deaths in so many days, with an interval that is
// honest down to one case.
//
// Methods: Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212; Clopper & Pearson, Biometrika 26 (1934)
// 404-413; for rates the exact interval of a Poisson count (Garwood, Biometrika 28 (1936) 437-442).
// The quantiles are Boost.Math's. All intervals are of 95 %.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstdint>
#include <optional>

#include "client/survival/kaplan_meier.h"

namespace broodpact::survival {

// `cases` of `all`, cases <= all. Nothing of none is anything: 0 .. 1.
Interval WilsonInterval(std::uint32_t cases, std::uint32_t all);
Interval ClopperPearsonInterval(std::uint32_t cases, std::uint32_t all);

// Events a day, over `exposure` days watched by all together.
struct Rate {
  double rate = 0;
  double lower = 0;
  double upper = 0;
  std::optional<double> mean_days{};  // between events; nothing where none was seen
};
// Nothing where nothing was watched: exposure <= 0.
std::optional<Rate> RateOf(std::uint32_t events, double exposure);

}  // namespace broodpact::survival
