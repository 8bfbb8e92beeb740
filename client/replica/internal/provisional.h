#pragma once

// What the last fold made of the commits that wait, kept beside them: so a sync knows what it has
// said of them without folding them once more.

#include <map>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/registry/verdict.h"
#include "client/replica/replica.h"
#include "client/store/store.h"

namespace broodpact::replica {

// The verdicts of those that did not plainly count. A commit that is not among them did: Act keeps
// no other, and what was kept before there was this list is taken so.
using ProvisionalVerdicts = std::map<Hash, registry::Verdict>;

// As KeepProvisional left them; none where they cannot be read, which costs that a result which
// did not change may be told as one that did.
// Errors: those of the store.
absl::StatusOr<ProvisionalVerdicts> ReadProvisional(const store::Store& database);

// Keeps those of `waiting`, where they are not what is kept.
// Errors: those of the store.
absl::Status KeepProvisional(store::Store& database,
                             const std::vector<Replica::Undelivered>& waiting);

}  // namespace broodpact::replica
