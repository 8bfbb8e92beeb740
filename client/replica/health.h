#pragma once

// How a breeding group fares as one population: who lives, whose genes are left, how diversity went
// over the years, how many mature males and females there were month by month, and how many of the
// males may be expected to live on.

#include "absl/status/statusor.h"

#include "broodpact/v1/group_health.pb.h"
#include "client/base/day.h"
#include "client/replica/view.h"

namespace broodpact::replica {

inline constexpr std::uint32_t kHealthYears = 10;
inline constexpr std::uint32_t kHealthMonths = 24;

// All is said for `today`. Animals count as living from hatching on, where that is not known from
// their entry on; a day that is not known exactly is the middle of its span. Only animals with an
// entry of their own count: slings in lots have no sex, and are not individuals yet.
//
// Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; INVALID_ARGUMENT with reason PEDIGREE_CYCLE,
// naming the animals; those of the source.
//
// What is expected rests on the group's own lives and pairings, else on those of its genus, else on
// the priors of `expectations` (nullptr: those that ship), and says on which.
absl::StatusOr<v1::GroupHealth> HealthOf(const View& view, const GroupId& group, Day today,
                                         const survival::Expectations* expectations = nullptr);

}  // namespace broodpact::replica
