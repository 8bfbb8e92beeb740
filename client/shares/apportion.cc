#include "client/shares/apportion.h"

#include <algorithm>
#include <numeric>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/base/status.h"

namespace broodpact::shares {
namespace {

absl::Status CheckInput(std::uint32_t slings, std::span<const Claimant> claimants) {
  constexpr auto kInvalid = absl::StatusCode::kInvalidArgument;
  if (claimants.empty()) {
    return Fail(kInvalid, "NO_PARTIES", "a split needs at least one party with a share");
  }
  if (claimants.size() > kClaimantsMax) {
    return Fail(kInvalid, "TOO_MANY_PARTIES",
                fmt::format("{} parties are more than {}; split the agreement", claimants.size(),
                            kClaimantsMax));
  }
  for (const Claimant& claimant : claimants) {
    if (claimant.weight < 1 || claimant.weight > kClaimantWeightMax) {
      return Fail(kInvalid, "WEIGHT_OUT_OF_RANGE",
                  fmt::format("a share of {} is outside 1 to {}; leave a party without a share out "
                              "of the ratio",
                              claimant.weight, kClaimantWeightMax));
    }
  }
  if (slings > facts::kSlingsMax) {
    return Fail(
        kInvalid, "SLINGS_OUT_OF_RANGE",
        fmt::format("{} slings are more than {}; check the count", slings, facts::kSlingsMax));
  }
  return absl::OkStatus();
}

std::uint64_t WeightSum(std::span<const Claimant> claimants) {
  std::uint64_t sum = 0;
  for (const Claimant& claimant : claimants) sum += claimant.weight;
  return sum;
}

}  // namespace

std::vector<std::size_t> ByRemainder(std::span<const Award> awards,
                                     std::span<const Claimant> claimants) {
  BP_CHECK(awards.size() == claimants.size());
  std::vector<std::size_t> order(awards.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::sort(order, [&](std::size_t a, std::size_t b) {
    if (awards[a].remainder != awards[b].remainder) {
      return awards[a].remainder > awards[b].remainder;
    }
    if (claimants[a].weight != claimants[b].weight) {
      return claimants[a].weight > claimants[b].weight;
    }
    return claimants[a].keeper < claimants[b].keeper;
  });
  return order;
}

absl::StatusOr<std::vector<Award>> ShareByLargestRemainder(std::uint32_t slings,
                                                           std::span<const Claimant> claimants) {
  BP_RETURN_IF_ERROR(CheckInput(slings, claimants));
  const std::uint64_t weight_sum = WeightSum(claimants);

  std::vector<Award> awards;
  awards.reserve(claimants.size());
  std::uint32_t slings_left = slings;
  for (const Claimant& claimant : claimants) {
    const std::uint64_t scaled = slings * claimant.weight;
    const auto whole = static_cast<std::uint32_t>(scaled / weight_sum);
    awards.push_back({.slings = whole, .slings_of_quota = whole, .remainder = scaled % weight_sum});
    slings_left -= whole;
  }

  // Fewer slings are left than there are parties: the fractional parts add up to exactly them.
  BP_CHECK(slings_left < awards.size());
  for (const std::size_t party : ByRemainder(awards, claimants)) {
    if (slings_left == 0) break;
    ++awards[party].slings;
    --slings_left;
  }
  return awards;
}

}  // namespace broodpact::shares
