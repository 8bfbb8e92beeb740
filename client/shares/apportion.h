#pragma once

// Whole slings for whole people: shares out a number of slings by agreed ratios.
//
// Method: largest remainder. Every party first gets the whole part of its exact quota; the slings
// left over go one each to the largest fractional parts. No party ends a whole sling away from its
// quota. (Hamilton's method; Balinski & Young, Fair Representation, 1982.)
//
// Pure, and whole-number arithmetic throughout: every replica gets the same answer.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"

#include "client/shares/claimant.h"

namespace broodpact::shares {

// What one party receives, with the working that lets both parties check it on paper.
struct Award {
  std::uint32_t slings = 0;           // what the party receives
  std::uint32_t slings_of_quota = 0;  // the whole part of its exact quota
  std::uint64_t remainder = 0;        // the rest of the quota, in parts of the sum of weights

  friend bool operator==(const Award&, const Award&) = default;
};

// Indexes of `awards`, the first to get a sling left over first: by remainder, the larger first,
// then by ComesBefore. `claimants` has as many elements.
std::vector<std::size_t> ByRemainder(std::span<const Award> awards,
                                     std::span<const Claimant> claimants);

// Shares `slings` (0 .. kSlingsSharedMax). Returns one award per claimant, in that order; they
// add up to `slings`.
//
// Errors: those of CheckClaimants, with the bounds of this room.
absl::StatusOr<std::vector<Award>> ShareByLargestRemainder(std::uint32_t slings,
                                                           std::span<const Claimant> claimants);

}  // namespace broodpact::shares
