#pragma once

// The invitation by which a device came in, to be shown to a server that has lost both, or never
// had them.

#include <optional>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/facts/commit.h"
#include "client/store/store.h"
#include "client/sync/joining.h"

namespace broodpact::replica {

// The key of the invitation that a first commit enters by; nothing if it enters by none.
std::optional<PublicKey> InviteKeyOf(const facts::Commit& first);

// The run of its author's chain that has the invitation of `joining`, with as much of the chain
// before it as one push holds: perhaps the server lacks that too. Empty where the invitation has
// not arrived here.
// Errors: those of the store.
absl::StatusOr<sync::SignedRun> InvitingRun(const store::Store& database,
                                            const facts::Commit& joining);

}  // namespace broodpact::replica
