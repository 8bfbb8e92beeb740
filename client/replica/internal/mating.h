#pragma once

// What the dues that run with a female follow from, read from a source (registry/female_dues.h).

#include "absl/status/statusor.h"

#include "client/registry/female_dues.h"
#include "client/registry/state.h"

namespace broodpact::replica {

// Her pairings, the loans that they were under, and her clutches. Errors: those of the source.
absl::StatusOr<registry::Mating> MatingOf(const registry::Source& source,
                                          const registry::Animal& female);

}  // namespace broodpact::replica
