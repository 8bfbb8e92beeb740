#pragma once

// Questions to a bundle that need no replica: what is in it, and what its writer has.

#include <cstddef>
#include <istream>

#include "absl/status/statusor.h"

#include "client/replica/replica.h"
#include "client/sync/bundle.h"

namespace broodpact::replica {

// What of others a replica carries at most, in commits and in their bytes: whatever somebody hands
// it costs bounded memory. All that waits is in memory at each opening, several times as large as
// its bytes, and so many commits of the greatest length would be 4 GiB, which a file of a few
// megabytes can hold. Own commits count for neither: nobody else can make them up.
inline constexpr std::size_t kCarriedMax = 65'536;
inline constexpr std::size_t kCarriedBytesMax = 67'108'864;

// Chains of a frontier that are read at most: whoever is let in can begin as many as he likes.
inline constexpr std::size_t kFrontierChainsMax = 500'000;

// What a bundle holds; nothing of it has been checked but its form.
// Errors: those of BundleReader.
absl::StatusOr<BundleReport> SurveyBundle(std::istream& in);

// What the writer of a bundle had, of `chains_max` chains at most. The others are left out: then
// more than is needed is written for him, where an error would let one member's chains keep all
// from exchanging. The same holds of chains in a part of the bundle that cannot be read.
// Errors: those of BundleReader; INVALID_ARGUMENT with reason BUNDLE_FORM where it does not say.
absl::StatusOr<sync::BundleFrontier> FrontierIn(std::istream& in,
                                                std::size_t chains_max = kFrontierChainsMax);

}  // namespace broodpact::replica
