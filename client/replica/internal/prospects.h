#pragma once

// What may be expected in a group, told as part of how it fares: how long males live, what came of
// pairings and sacs, and how many of the males that are mature now will live on.

#include "absl/status/status.h"

#include "broodpact/v1/group_health.pb.h"
#include "client/base/day.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/survival/expectations.h"

namespace broodpact::replica {

inline constexpr std::uint32_t kProjectionMonths = 24;

struct Prospect {
  GroupId group{};
  Day today{};
  const survival::Expectations& expectations;  // priors
  std::vector<double> ages{};                  // of mature living males, days since maturity
};

// Fills in male_life, projection, pairing_outcomes and sac_outcomes, with a remark where nothing
// is known. Errors: those of the source.
absl::Status TellProspects(const registry::Source& source, const Prospect& prospect,
                           v1::GroupHealth& health);

}  // namespace broodpact::replica
