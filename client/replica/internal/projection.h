#pragma once

// How many of the males that are mature now will live on, month by month.
//
// Each lives on by the curve of the group's own males, given that he has come to his age. How many
// do is the sum of chances that have nothing to do with each other, so its distribution is computed
// exactly, male by male: what a simulation would come to after endless courses, without its noise.

#include <cstdint>
#include <span>
#include <vector>

#include "client/base/day.h"
#include "client/replica/internal/population.h"
#include "client/survival/kaplan_meier.h"

namespace broodpact::replica {

struct Expected {
  double males = 0;
  std::uint32_t lower = 0;  // 8 of 10 courses lie between the two
  std::uint32_t upper = 0;
  double none = 0;  // chance that nobody is alive
};

// With fewer lives, or no death among them, a curve says nothing.
inline constexpr std::uint32_t kProjectionLivesMin = 5;
inline constexpr std::uint32_t kProjectionDeathsMin = 1;

// The curve of the mature males of a group, each watched from his maturity, or his entry where that
// was later, up to his death or `today`.
survival::Curve CurveOfMales(const std::vector<PopulationMember>& members, Day today);

// `ages` are days since maturity of those alive; `days` is how far ahead. One who is older than the
// curve goes counts as not living on: nothing says how long he has.
Expected ExpectedAlive(const survival::Curve& curve, std::span<const double> ages, double days);

}  // namespace broodpact::replica
