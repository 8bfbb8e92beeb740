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

#include "client/base/id.h"
#include "client/facts/terms.h"

namespace broodpact::shares {

// One party's weight. Equal remainders are settled by weight, the larger first, and then by
// keeper id, the lower first: never by the order in which the parties were named, so that two
// papers that list them differently give the same slings.
struct Claimant {
  KeeperId keeper;           // each keeper once
  std::uint64_t weight = 0;  // 1 .. kClaimantWeightMax
};

// What one party receives, with the working that lets both parties check it on paper.
struct Award {
  std::uint32_t slings = 0;           // what the party receives
  std::uint32_t slings_of_quota = 0;  // the whole part of its exact quota
  std::uint64_t remainder = 0;        // the rest of the quota, in parts of the sum of weights

  friend bool operator==(const Award&, const Award&) = default;
};

// Bounds that keep slings * weight inside 64 bits, and far above any real clutch: census tables
// fit too, which is how the method is checked against published ones.
inline constexpr std::uint64_t kClaimantWeightMax = std::uint64_t{1} << 40;
inline constexpr std::size_t kClaimantsMax = 1'000;
static_assert(kClaimantWeightMax <= UINT64_MAX / facts::kSlingsMax);
static_assert(kClaimantsMax <= UINT64_MAX / kClaimantWeightMax);

// Indexes of `awards`, the first to get a sling left over first: by remainder, the larger first,
// then by the rule of Claimant. `claimants` has as many elements.
std::vector<std::size_t> ByRemainder(std::span<const Award> awards,
                                     std::span<const Claimant> claimants);

// Shares `slings` (0 .. facts::kSlingsMax). Returns one award per claimant, in that order; they
// add up to `slings`.
//
// Errors, in this order: INVALID_ARGUMENT with reason NO_PARTIES, TOO_MANY_PARTIES,
// WEIGHT_OUT_OF_RANGE or SLINGS_OUT_OF_RANGE.
absl::StatusOr<std::vector<Award>> ShareByLargestRemainder(std::uint32_t slings,
                                                           std::span<const Claimant> claimants);

}  // namespace broodpact::shares
