#include "client/shares/picking.h"

#include <algorithm>

#include "fmt/core.h"

#include "client/base/status.h"

namespace broodpact::shares {
namespace {

std::size_t DigitSum(std::uint64_t number, std::size_t base) {
  std::size_t sum = 0;
  for (; number > 0; number /= base) sum += static_cast<std::size_t>(number % base);
  return sum;
}

// How many picks a party with `picks` of `rounds` has had before round `round`: the nearest whole
// number to the even part.
std::uint64_t PicksBefore(std::uint64_t round, std::uint64_t picks, std::uint64_t rounds) {
  return (2 * round * picks + rounds) / (2 * rounds);
}

}  // namespace

absl::StatusOr<std::vector<std::size_t>> PickingOrder(std::span<const std::uint32_t> picks) {
  std::vector<std::size_t> parties;
  std::uint64_t sum = 0;
  std::uint64_t rounds = 0;
  for (std::size_t i = 0; i < picks.size(); ++i) {
    if (picks[i] > 0) parties.push_back(i);
    sum += picks[i];
    rounds = std::max<std::uint64_t>(rounds, picks[i]);
  }
  if (sum > kPicksMax) {
    return Fail(
        absl::StatusCode::kInvalidArgument, "TOO_MANY_PICKS",
        fmt::format("{} slings are too many to pick one by one; at most {} are", sum, kPicksMax));
  }
  std::vector<std::size_t> order;
  order.reserve(static_cast<std::size_t>(sum));
  const std::size_t count = parties.size();
  for (std::uint64_t round = 0; round < rounds; ++round) {
    // With one party alone there are no turns, and no base to count in.
    const std::size_t first = count > 1 ? DigitSum(round, count) : 0;
    for (std::size_t turn = 0; turn < count; ++turn) {
      const std::size_t party = parties[(first + turn) % count];
      const bool picks_now =
          PicksBefore(round + 1, picks[party], rounds) > PicksBefore(round, picks[party], rounds);
      if (picks_now) order.push_back(party);
    }
  }
  return order;
}

}  // namespace broodpact::shares
