#include "client/replica/internal/projection.h"

#include <algorithm>

namespace broodpact::replica {
namespace {

constexpr double kTail = 0.1;

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

survival::Curve CurveOfMales(const std::vector<PopulationMember>& members, Day today) {
  std::vector<survival::Life> lives;
  for (const PopulationMember& member : members) {
    if (member.animal.sex != facts::Sex::kMale || !member.mature_since) continue;
    const Day maturity = *member.mature_since;
    const Day entered = DayOfMillis(member.animal.entry.time_ms);
    const Day end = member.until ? std::min(*member.until, today) : today;
    lives.push_back({.entry = std::max(0.0, static_cast<double>(entered.number - maturity.number)),
                     .exit = static_cast<double>(end.number - maturity.number),
                     .ending = member.until && *member.until <= today
                                   ? survival::Ending::kDied
                                   : survival::Ending::kStillAlive});
  }
  return survival::FitKaplanMeier(lives);
}

Expected ExpectedAlive(const survival::Curve& curve, std::span<const double> ages, double days) {
  Expected expected;
  std::vector<double> chances;
  for (const double age : ages) {
    const double now = curve.AliveAt(age);
    chances.push_back(now > 0 ? curve.AliveAt(age + days) / now : 0);
    expected.males += chances.back();
  }
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

}  // namespace broodpact::replica
