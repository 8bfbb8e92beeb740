#pragma once

// Who shares by what weight, which of two equals comes first, and how large the numbers may be:
// what every method of this room has in common.
//
// Pure, and whole-number arithmetic throughout.

#include <cstddef>
#include <cstdint>
#include <span>

#include "absl/status/status.h"

#include "client/base/id.h"
#include "client/facts/terms.h"

namespace broodpact::shares {

// One party's weight.
struct Claimant {
  KeeperId keeper;           // each keeper once
  std::uint64_t weight = 0;  // 1 .. kClaimantWeightMax
};

// Far above any real clutch and agreement: census tables fit too, which is how the methods are
// checked against published ones.
inline constexpr std::uint32_t kSlingsSharedMax = 1'000'000'000;
inline constexpr std::uint64_t kClaimantWeightMax = std::uint64_t{1} << 32;
inline constexpr std::size_t kClaimantsMax = 1'000;
static_assert(kSlingsSharedMax >= facts::kSlingsMax && kClaimantWeightMax >= facts::kWeightMax);
// Slings times a weight, and a sum of weights, are whole numbers of 64 bits.
static_assert(kClaimantWeightMax <= UINT64_MAX / kSlingsSharedMax);
static_assert(kClaimantsMax <= UINT64_MAX / kClaimantWeightMax);

// What a method takes: it has fewer than these where it works through slings one by one.
struct Bounds {
  std::size_t claimants = kClaimantsMax;
  std::uint64_t weight = kClaimantWeightMax;
  std::uint32_t slings = kSlingsSharedMax;
};

// Whether `a` comes before `b` where a method finds them equal: the larger weight first, then the
// lower keeper id. Never by the order in which the parties were named: two papers that list them
// differently give the same slings, and what one clutch settled the next does not settle again.
bool ComesBefore(const Claimant& a, const Claimant& b);

// The sum of the weights of claimants within the bounds.
std::uint64_t WeightSum(std::span<const Claimant> claimants);

// Whether `slings` can be shared by `claimants`.
//
// Errors, in this order: INVALID_ARGUMENT with reason NO_PARTIES, TOO_MANY_PARTIES,
// WEIGHT_OUT_OF_RANGE or SLINGS_OUT_OF_RANGE.
absl::Status CheckClaimants(std::uint64_t slings, std::span<const Claimant> claimants,
                            const Bounds& bounds);

}  // namespace broodpact::shares
