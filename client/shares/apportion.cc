#include "client/shares/apportion.h"

#include <algorithm>
#include <numeric>

#include "client/base/check.h"
#include "client/base/status.h"

namespace broodpact::shares {

std::vector<std::size_t> ByRemainder(std::span<const Award> awards,
                                     std::span<const Claimant> claimants) {
  BP_CHECK(awards.size() == claimants.size());
  std::vector<std::size_t> order(awards.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::sort(order, [&](std::size_t a, std::size_t b) {
    if (awards[a].remainder != awards[b].remainder) {
      return awards[a].remainder > awards[b].remainder;
    }
    return ComesBefore(claimants[a], claimants[b]);
  });
  return order;
}

absl::StatusOr<std::vector<Award>> ShareByLargestRemainder(std::uint32_t slings,
                                                           std::span<const Claimant> claimants) {
  BP_RETURN_IF_ERROR(CheckClaimants(slings, claimants, Bounds{}));
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
