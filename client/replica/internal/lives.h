#pragma once

// The lives of males after maturity, as the cooperative knows them.

#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/survival/expectations.h"
#include "client/survival/outlook.h"

namespace broodpact::replica {

// Males that are looked through for lives, living and dead each: far more than a group has, so that
// the bound, which keeps a search quick, leaves none out. Of a genus as many as tell how long males
// live to a few days. The oldest come first.
inline constexpr std::size_t kGroupMalesMax = 2'000;
inline constexpr std::size_t kGenusMalesMax = 1'500;
inline constexpr std::size_t kGenusGroupsMax = 1'000;

// The other groups whose taxon has the same genus.
absl::StatusOr<std::vector<GroupId>> OtherGroupsOfGenus(const registry::Source& source,
                                                        const registry::Group& group);

// What is known of the lives of a group's males, each watched from his maturity, or his entry where
// that was later, up to his death or `today`: its own, those of all
// groups of its genus where its own do not suffice (else no curve), and the prior of
// `expectations`.
absl::StatusOr<survival::Evidence> MaleLives(const registry::Source& source, const GroupId& group,
                                             Day today, const survival::Expectations& expectations);

}  // namespace broodpact::replica
