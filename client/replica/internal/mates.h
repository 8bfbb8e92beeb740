#pragma once

// What searches for a mate have in common: for whom, in which group, and what is known of a male's
// past.

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/registry/state.h"
#include "client/registry/subject.h"

namespace broodpact::replica {

// Animals of one group that one search looks at.
inline constexpr std::size_t kCandidatesMax = 10'000;

// INVALID_ARGUMENT with reason QUERY_FORM.
absl::Status QueryForm(const std::string& message);

// The animal that a mate is looked for, of the sex that it must have.
// Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; QUERY_FORM for another sex.
absl::StatusOr<std::optional<registry::Animal>> MateOf(const registry::Source& source,
                                                       const std::optional<AnimalId>& id,
                                                       facts::Sex sex);

// The group to look in. Errors: QUERY_FORM.
absl::StatusOr<GroupId> GroupOf(const std::optional<GroupId>& group,
                                const std::optional<registry::Animal>& mate);

// How many loans of each are proposed and not in force, among the open loans of its owner.
absl::StatusOr<std::map<AnimalId, std::uint32_t>> WaitingFor(
    const registry::Source& source, const std::vector<registry::Animal>& animals);

// What came of a male's pairings: sacs for which he is a possible sire.
struct Success {
  std::uint32_t sacs = 0;
  std::uint32_t hatched = 0;  // counted with living slings
};
absl::StatusOr<std::map<AnimalId, Success>> SuccessesOf(const registry::Source& source,
                                                        const std::vector<registry::Animal>& males);

}  // namespace broodpact::replica
