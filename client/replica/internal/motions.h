#pragma once

// The motions of the cooperative, as they are folded.

#include <vector>

#include "absl/status/statusor.h"

#include "client/registry/member.h"
#include "client/registry/state.h"

namespace broodpact::replica {

// All of them, open and carried, in order of their ids.
// Errors: those of the source; DATA_LOSS with reason STORE_DAMAGED.
absl::StatusOr<std::vector<registry::Motion>> MotionsOf(const registry::Source& source);

}  // namespace broodpact::replica
