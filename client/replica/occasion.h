#pragma once

// What the split of a clutch rests on beside terms and count, as a replica knows it now: the same
// as the fold will say when the split arrives, unless something else arrives first.

#include "absl/status/statusor.h"

#include "client/facts/terms.h"
#include "client/registry/state.h"
#include "client/registry/subject.h"
#include "client/shares/occasion.h"

namespace broodpact::replica {

// The occasion of the next split of a clutch: that of its first, if it was shared out before.
// `terms` are those of the version that shares the clutch out.
// Errors: those of the source.
absl::StatusOr<shares::Occasion> OccasionOf(const registry::Source& source,
                                            const registry::Clutch& clutch,
                                            const facts::Terms& terms);

}  // namespace broodpact::replica
