#include "client/shares/method.h"

#include <algorithm>
#include <cstddef>
#include <numeric>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/shares/apportion.h"

namespace broodpact::shares {
namespace {

// Products of weights, slings and their squares.
__extension__ using Wide = unsigned __int128;

// A party's claim to its next sling: weight / d(slings), squared for Huntington-Hill, where d is a
// root. Only claims by one method compare. Nothing below the line is a claim before all others.
struct Claim {
  Wide over = 0;
  Wide under = 1;
};

// Claims are compared crosswise. The largest product is that of two squares: a weight's and a
// number of slings'. Against a level it is no larger than the square of slings times weight plus
// the sum of weights, as a party's slings times that sum are at most the quota's slings times its
// weight.
constexpr Wide kWideWeight = kClaimantWeightMax;
constexpr Wide kWideSlings = kSlingsSharedMax;
constexpr Wide kWideQuota = kWideSlings * kWideWeight + kClaimantsMax * kWideWeight;
static_assert(kWideWeight * kWideWeight <= ~Wide{0} / (kWideSlings * (kWideSlings + 1)));
static_assert(kWideQuota <= ~Wide{0} / kWideQuota);

Claim ClaimOf(Method method, std::uint64_t weight, std::uint32_t slings) {
  const Wide wide_weight = weight;
  const Wide has = slings;
  switch (method) {
    case Method::kLargestRemainder:
      break;
    case Method::kSainteLague:
      return {.over = 2 * wide_weight, .under = 2 * has + 1};
    case Method::kDHondt:
      return {.over = wide_weight, .under = has + 1};
    case Method::kAdams:
      return {.over = wide_weight, .under = has};
    case Method::kHuntingtonHill:
      return {.over = wide_weight * wide_weight, .under = has * (has + 1)};
  }
  BP_CHECK(false);  // largest remainder has no claims
  return {};
}

// The claim that an exact quota of `slings` is: that of a party whose d is `slings` as its weight
// is `weight_sum`.
Claim LevelOf(Method method, std::uint64_t weight_sum, std::uint32_t slings) {
  const Wide over = weight_sum;
  const Wide under = slings;
  if (method == Method::kHuntingtonHill) return {.over = over * over, .under = under * under};
  return {.over = over, .under = under};
}

bool IsAtLeast(const Claim& a, const Claim& b) {
  return a.over * b.under >= b.over * a.under;
}

// Slings that everybody gets for certain: all whose claim reaches a common level. Whoever is served
// by claims has had exactly these before any other, whatever the ties.
//
// The level is that of the quota of as many slings as are left when each party is one ahead. As
// n <= d(n) <= n + 1, a party has the whole part of that quota or one more, so that the sum is not
// too large, and short of `slings` by less than two for each party.
std::vector<std::uint32_t> CertainSlings(Method method, std::uint32_t slings,
                                         std::span<const Claimant> claimants) {
  std::vector<std::uint32_t> certain(claimants.size());
  if (slings <= claimants.size()) return certain;
  const auto quota_slings = static_cast<std::uint32_t>(slings - claimants.size());
  const std::uint64_t weight_sum = WeightSum(claimants);
  const Claim level = LevelOf(method, weight_sum, quota_slings);
  for (std::size_t i = 0; i < claimants.size(); ++i) {
    const std::uint64_t weight = claimants[i].weight;
    certain[i] = static_cast<std::uint32_t>(quota_slings * weight / weight_sum);
    if (IsAtLeast(ClaimOf(method, weight, certain[i]), level)) ++certain[i];
  }
  return certain;
}

std::vector<std::uint32_t> ShareByDivisor(Method method, std::uint32_t slings,
                                          std::span<const Claimant> claimants) {
  std::vector<std::uint32_t> given = CertainSlings(method, slings, claimants);
  const std::uint64_t certain = std::accumulate(given.begin(), given.end(), std::uint64_t{0});
  BP_CHECK(certain <= slings);

  const auto waits_for = [&](std::size_t a, std::size_t b) {
    const Claim claim_a = ClaimOf(method, claimants[a].weight, given[a]);
    const Claim claim_b = ClaimOf(method, claimants[b].weight, given[b]);
    if (!IsAtLeast(claim_a, claim_b)) return true;
    return IsAtLeast(claim_b, claim_a) && ComesBefore(claimants[b], claimants[a]);
  };
  std::vector<std::size_t> queue(claimants.size());
  std::iota(queue.begin(), queue.end(), std::size_t{0});
  std::ranges::make_heap(queue, waits_for);
  for (std::uint64_t left = slings - certain; left > 0; --left) {
    std::ranges::pop_heap(queue, waits_for);
    ++given[queue.back()];
    std::ranges::push_heap(queue, waits_for);
  }
  return given;
}

}  // namespace

absl::StatusOr<std::vector<std::uint32_t>> ShareBy(Method method, std::uint32_t slings,
                                                   std::span<const Claimant> claimants) {
  if (method == Method::kLargestRemainder) {
    BP_ASSIGN_OR_RETURN(const std::vector<Award> awards,
                        ShareByLargestRemainder(slings, claimants));
    std::vector<std::uint32_t> given;
    given.reserve(awards.size());
    for (const Award& award : awards) given.push_back(award.slings);
    return given;
  }
  BP_RETURN_IF_ERROR(CheckClaimants(slings, claimants, Bounds{}));
  return ShareByDivisor(method, slings, claimants);
}

Margin MarginOf(Method method, std::span<const std::uint32_t> slings,
                std::span<const Claimant> claimants) {
  BP_CHECK(slings.size() == claimants.size());
  const auto last_claim = [&](std::size_t i) {
    return ClaimOf(method, claimants[i].weight, slings[i] - 1);
  };
  const auto next_claim = [&](std::size_t i) {
    return ClaimOf(method, claimants[i].weight, slings[i]);
  };
  const auto before = [&](const Claim& a, const Claim& b, std::size_t i, std::size_t j) {
    if (!IsAtLeast(a, b)) return false;
    return !IsAtLeast(b, a) || ComesBefore(claimants[i], claimants[j]);
  };
  Margin margin{.last = claimants.size(), .next = 0, .tied = false};
  for (std::size_t i = 0; i < claimants.size(); ++i) {
    if (slings[i] > 0 && (margin.last == claimants.size() ||
                          before(last_claim(margin.last), last_claim(i), margin.last, i))) {
      margin.last = i;
    }
    if (before(next_claim(i), next_claim(margin.next), i, margin.next)) margin.next = i;
  }
  BP_CHECK(margin.last < claimants.size());
  margin.tied = IsAtLeast(next_claim(margin.next), last_claim(margin.last));
  return margin;
}

}  // namespace broodpact::shares
