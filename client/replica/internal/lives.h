#pragma once

// The lives of males after maturity, as the cooperative knows them.

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/survival/kaplan_meier.h"

namespace broodpact::replica {

// With fewer lives, or no death among them, a curve says nothing.
inline constexpr std::uint32_t kLivesMin = 5;
inline constexpr std::uint32_t kDeathsMin = 1;

// Males that are looked through for lives, living and dead each: far more than a group has, so that
// the bound, which keeps a search quick, leaves none out. The oldest come first.
inline constexpr std::size_t kGroupMalesMax = 2'000;
inline constexpr std::size_t kGenusMalesMax = 5'000;
inline constexpr std::size_t kGenusGroupsMax = 1'000;

// Fits the curve of a group's males, watched up to `today`; where they are too few, of all males of
// groups of its genus (the first word of the taxon); where those are too few, an empty curve.
absl::StatusOr<survival::Curve> MaleLifeCurve(const registry::Source& source, const GroupId& group,
                                              Day today);

}  // namespace broodpact::replica
