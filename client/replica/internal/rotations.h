#pragma once

// How the key of a device took the place of others, to be shown to a server that has lost that, or
// never had it.

#include <vector>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/facts/commit.h"
#include "client/store/store.h"

namespace broodpact::replica {

// The commits of the rotations that led to `device`, the earliest first; at most
// sync::kRotationsMax, the latest ones. None where it came in by an invitation.
// Errors: those of the store.
absl::StatusOr<std::vector<facts::SignedCommit>> RotationsTo(const store::Store& database,
                                                             DeviceId device);

}  // namespace broodpact::replica
