#include "client/shares/claimant.h"

#include <fmt/core.h>

#include "client/base/status.h"

namespace broodpact::shares {

bool ComesBefore(const Claimant& a, const Claimant& b) {
  if (a.weight != b.weight) return a.weight > b.weight;
  return a.keeper < b.keeper;
}

std::uint64_t WeightSum(std::span<const Claimant> claimants) {
  std::uint64_t sum = 0;
  for (const Claimant& claimant : claimants) sum += claimant.weight;
  return sum;
}

absl::Status CheckClaimants(std::uint64_t slings, std::span<const Claimant> claimants,
                            const Bounds& bounds) {
  constexpr auto kInvalid = absl::StatusCode::kInvalidArgument;
  if (claimants.empty()) {
    return Fail(kInvalid, "NO_PARTIES", "a split needs at least one party with a share");
  }
  if (claimants.size() > bounds.claimants) {
    return Fail(kInvalid, "TOO_MANY_PARTIES",
                fmt::format("{} parties are more than {}; split the agreement", claimants.size(),
                            bounds.claimants));
  }
  for (const Claimant& claimant : claimants) {
    if (claimant.weight < 1 || claimant.weight > bounds.weight) {
      return Fail(kInvalid, "WEIGHT_OUT_OF_RANGE",
                  fmt::format("a share of {} is outside 1 to {}; leave a party without a share out "
                              "of the ratio",
                              claimant.weight, bounds.weight));
    }
  }
  if (slings > bounds.slings) {
    return Fail(kInvalid, "SLINGS_OUT_OF_RANGE",
                fmt::format("{} slings are more than {}; check the count", slings, bounds.slings));
  }
  return absl::OkStatus();
}

}  // namespace broodpact::shares
