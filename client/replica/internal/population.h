#pragma once

// The animals of a group along time: who lived when, and since when each was mature.

#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"

namespace broodpact::replica {

struct PopulationMember {
  registry::Animal animal{};
  Day since{};                        // hatched, or entered where that is not known
  std::optional<Day> until{};         // died
  std::optional<Day> mature_since{};  // of a female: also by her first pairing or sac
};

// All animals of a group, living and dead, in order of id.
// Errors: those of the source.
absl::StatusOr<std::vector<PopulationMember>> PopulationOf(const registry::Source& source,
                                                           const GroupId& group);

// Whether it lived at the end of a day.
bool LivedAt(const PopulationMember& member, Day day);

// A month of the calendar.
struct Month {
  std::string text{};  // "2026-11"
  Day first{};
  Day last{};
};

// The month of a day, and `months` months after it (before it, where negative).
Month MonthOf(Day day, std::int32_t months);

}  // namespace broodpact::replica
