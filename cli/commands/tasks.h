#pragma once

// What waits for a keeper: loans to sign, animals and parcels to receive, animals due back, slings
// to hand over, splits to record. Found through the keeper's own loans, animals and lots, so that
// it costs what the keeper has and not what the cooperative has.

#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/replica/view.h"

namespace broodpact::cli {

// One sentence each, with the command that does it; what is most pressing first: signatures,
// handovers, what is due back, splits.
absl::StatusOr<std::vector<std::string>> TasksOf(const replica::View& view, Day today);

}  // namespace broodpact::cli
