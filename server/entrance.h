#pragma once

// Whether a newcomer is let in, asked before the joining has its place for good: one that does not
// count would take the first place of the newcomer's chain, which is there once.

#include <cstdint>

#include "absl/status/statusor.h"

#include "client/registry/verdict.h"
#include "client/store/store.h"
#include "server/door.h"

namespace broodpact::server {

// `run` begins with a joining (EnteringIn). One that has arrived already is let in again.
// Errors: NOT_FOUND with reason INVITE_UNKNOWN (the invitation has not arrived);
// FAILED_PRECONDITION with reason INVITE_USED, or that of the fold, as for a name that is taken;
// those of the store.
absl::Status CheckEntrance(const store::Store& database, const Run& run, std::int64_t now_ms);

// Whether the invitation that a joining names is at hand for its author: it has arrived, and nobody
// else has spent it. One look at the registry; nothing else about the joining is checked.
// Errors: those of the store.
absl::StatusOr<bool> IsInvited(const store::Store& database, const facts::Commit& joining);

// A verdict as the error that a newcomer gets: OK where it counts, else FAILED_PRECONDITION with
// its reason.
absl::Status StatusOf(const registry::Verdict& verdict);

// The code was spent by somebody else: FAILED_PRECONDITION with reason INVITE_USED.
absl::Status UsedError();

}  // namespace broodpact::server
