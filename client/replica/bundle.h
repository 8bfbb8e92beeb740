#pragma once

// Questions to a bundle that need no replica: what is in it, and what its writer has.

#include <istream>

#include "absl/status/statusor.h"

#include "client/replica/replica.h"
#include "client/sync/bundle.h"

namespace broodpact::replica {

// Commits of others that a replica carries at most: whatever somebody hands it costs bounded
// memory.
inline constexpr std::size_t kCarriedMax = 65'536;

// What a bundle holds; nothing of it has been checked but its form.
// Errors: those of BundleReader.
absl::StatusOr<BundleReport> SurveyBundle(std::istream& in);

// What the writer of a bundle had.
// Errors: those of BundleReader; INVALID_ARGUMENT with reason BUNDLE_FORM where it does not say.
absl::StatusOr<sync::BundleFrontier> FrontierIn(std::istream& in);

}  // namespace broodpact::replica
