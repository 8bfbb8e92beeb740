#include "client/survival/proportion.h"

#include <algorithm>
#include <cmath>

#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/chi_squared.hpp>

namespace broodpact::survival {
namespace {

constexpr double kNormalQuantile = 1.959963984540054;
constexpr double kTail = 0.025;

}  // namespace

Interval WilsonInterval(std::uint32_t cases, std::uint32_t all) {
  if (all == 0) return {};
  const double n = all;
  const double share = cases / n;
  const double square = kNormalQuantile * kNormalQuantile;
  const double middle = (share + square / (2 * n)) / (1 + square / n);
  const double width = kNormalQuantile / (1 + square / n) *
                       std::sqrt(share * (1 - share) / n + square / (4 * n * n));
  return {.lower = cases == 0 ? 0 : std::max(0.0, middle - width),
          .upper = cases == all ? 1 : std::min(1.0, middle + width)};
}

Interval ClopperPearsonInterval(std::uint32_t cases, std::uint32_t all) {
  Interval interval;
  const double hits = cases;
  const double misses = all - cases;
  if (hits > 0) {
    interval.lower = quantile(boost::math::beta_distribution<double>(hits, misses + 1), kTail);
  }
  if (misses > 0) {
    interval.upper = quantile(boost::math::beta_distribution<double>(hits + 1, misses), 1 - kTail);
  }
  return interval;
}

std::optional<Rate> RateOf(std::uint32_t events, double exposure) {
  if (!(exposure > 0)) return std::nullopt;
  const auto chi_square = [](double degrees, double level) {
    return quantile(boost::math::chi_squared_distribution<double>(degrees), level);
  };
  Rate rate{.rate = events / exposure};
  if (events > 0) {
    rate.lower = chi_square(2.0 * events, kTail) / (2 * exposure);
    rate.mean_days = exposure / events;
  }
  rate.upper = chi_square(2.0 * events + 2, 1 - kTail) / (2 * exposure);
  return rate;
}

}  // namespace broodpact::survival
