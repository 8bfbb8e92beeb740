#pragma once

// What the last fold made of the commits that wait, kept beside them: so a sync knows what it has
// said of them without folding them once more.

#include <map>
#include <optional>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/registry/verdict.h"
#include "client/replica/replica.h"
#include "client/store/store.h"

namespace broodpact::replica {

// The small value of the store that has them; empty while it is not known.
inline constexpr char kMetaProvisional[] = "provisional";

// Whether it counts, and there is nothing to remark.
bool PlainlyCounts(const registry::Verdict& verdict);

// The verdicts of those that do not plainly count; a commit that waits and is not among them does.
using ProvisionalVerdicts = std::map<Hash, registry::Verdict>;

// Nothing where it is not known: it has been forgotten, was never kept, or cannot be read.
// Errors: those of the store.
absl::StatusOr<std::optional<ProvisionalVerdicts>> ReadProvisional(const store::Store& database);

// Keeps those of `waiting`, where they are not what is kept. Written, not synced, as the next one.
// Errors: those of the store.
absl::Status KeepProvisional(store::Store& database,
                             const std::vector<Replica::Undelivered>& waiting);

// Before commits begin to wait that are to be folded afterwards.
// Errors: those of the store.
absl::Status ForgetProvisional(store::Store& database);

}  // namespace broodpact::replica
