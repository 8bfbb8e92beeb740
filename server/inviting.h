#pragma once

// An invitation that this server lacks, as somebody brings it who came in by it: at the server
// before this one, or before this one lost it.

#include "absl/status/statusor.h"

#include "broodpact/v1/sync_service.pb.h"
#include "server/callers.h"
#include "server/door.h"

namespace broodpact::server {

// The run that has the invitation of `joining`, as its author signed it. Whoever brings it need
// be nobody known: nothing is taken that does not let him in.
// Errors: NOT_FOUND with reason INVITE_UNKNOWN (that invitation is not in it); those of
// Callers::Author and CheckTaken, and of CheckRun.
absl::StatusOr<Run> CheckInviting(const Callers& callers, const v1::Push& inviting,
                                  const Run& joining);

}  // namespace broodpact::server
