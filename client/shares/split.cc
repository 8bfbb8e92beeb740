#include "client/shares/split.h"

#include <algorithm>
#include <cstddef>
#include <utility>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/shares/apportion.h"

namespace broodpact::shares {
namespace {

using facts::ClaimKind;
using facts::PriorClaim;
using facts::Terms;

// What a prior claim gets of `slings_left`.
std::uint32_t SlingsOfClaim(const PriorClaim& claim, std::uint32_t slings_left) {
  std::uint64_t slings = claim.amount;
  if (claim.kind == ClaimKind::kBasisPoints) {
    slings = std::uint64_t{slings_left} * claim.amount / facts::kBasisPointsMax;
  }
  if (claim.slings_max != 0) slings = std::min<std::uint64_t>(slings, claim.slings_max);
  return static_cast<std::uint32_t>(std::min<std::uint64_t>(slings, slings_left));
}

// A split under way: every sling leaves the table by a line of the working.
class Table {
 public:
  Table(const Terms& terms, std::uint32_t slings_counted) : slings_left_(slings_counted) {
    split_.slings_counted = slings_counted;
    split_.slings.resize(terms.parties.size());
    split_.working.push_back({.kind = StepKind::kCounted, .slings_before = slings_counted});
  }

  std::uint32_t SlingsCounted() const { return split_.slings_counted; }
  std::uint32_t SlingsLeft() const { return slings_left_; }

  // Hands out what `step` gives.
  void Give(const Step& step) {
    BP_CHECK(step.party < split_.slings.size());
    BP_CHECK(step.slings <= slings_left_);
    split_.slings[step.party] += step.slings;
    slings_left_ -= step.slings;
    split_.working.push_back(step);
  }

  Split Finish() && {
    BP_CHECK(slings_left_ == 0);
    return std::move(split_);
  }

 private:
  Split split_;
  std::uint32_t slings_left_ = 0;
};

void GiveClaim(const Terms& terms, std::uint32_t index, Table& table) {
  const PriorClaim& claim = terms.prior_claims[index];
  const bool idle = table.SlingsCounted() < claim.slings_counted_min;
  table.Give({.kind = idle ? StepKind::kClaimIdle : StepKind::kPriorClaim,
              .party = claim.party,
              .claim = index,
              .slings_before = table.SlingsLeft(),
              .slings = idle ? 0 : SlingsOfClaim(claim, table.SlingsLeft())});
}

// Why `winner` gets a sling left over and `loser`, with as large a remainder, does not.
TieRule TieRuleOf(const Step& winner, const Step& loser) {
  if (winner.remainder != loser.remainder) return TieRule::kNoTie;
  return winner.weight != loser.weight ? TieRule::kLargerShare : TieRule::kLowerKeeper;
}

void GiveShares(const Terms& terms, Table& table) {
  std::vector<Claimant> claimants;
  std::uint64_t weight_sum = 0;
  for (const facts::RatioShare& share : terms.shares) {
    claimants.push_back({.keeper = terms.parties[share.party].keeper, .weight = share.weight});
    weight_sum += share.weight;
  }
  // Terms have bounds that lie within those of an apportionment: it cannot be refused.
  const auto awards = ShareByLargestRemainder(table.SlingsLeft(), claimants);
  BP_CHECK(awards.ok());

  std::vector<Step> quotas;
  for (std::size_t i = 0; i < awards->size(); ++i) {
    quotas.push_back({.kind = StepKind::kQuota,
                      .party = terms.shares[i].party,
                      .slings_before = table.SlingsLeft(),
                      .slings = (*awards)[i].slings_of_quota,
                      .weight = claimants[i].weight,
                      .weight_sum = weight_sum,
                      .remainder = (*awards)[i].remainder});
  }
  for (const Step& quota : quotas) table.Give(quota);

  const std::vector<std::size_t> order = ByRemainder(*awards, claimants);
  const std::size_t first_without = table.SlingsLeft();
  for (std::size_t i = 0; i < first_without; ++i) {
    Step step = quotas[order[i]];
    step.kind = StepKind::kRemainder;
    step.slings_before = table.SlingsLeft();
    step.slings = 1;
    step.tie = TieRuleOf(step, quotas[order[first_without]]);
    table.Give(step);
  }
}

}  // namespace

absl::StatusOr<Split> SplitOf(const Terms& terms, std::uint32_t slings_counted) {
  if (slings_counted > facts::kSlingsMax) {
    return Fail(absl::StatusCode::kInvalidArgument, "SLINGS_OUT_OF_RANGE",
                fmt::format("{} slings are more than {}; check the count", slings_counted,
                            facts::kSlingsMax));
  }
  Table table(terms, slings_counted);
  if (slings_counted == 0) return std::move(table).Finish();

  if (terms.small_clutch && slings_counted < terms.small_clutch->below) {
    table.Give({.kind = StepKind::kSmallClutch,
                .party = terms.small_clutch->party,
                .slings_before = slings_counted,
                .slings = slings_counted});
    return std::move(table).Finish();
  }
  for (std::uint32_t i = 0; i < terms.prior_claims.size(); ++i) GiveClaim(terms, i, table);
  if (table.SlingsLeft() == 0) return std::move(table).Finish();

  if (!terms.shares.empty()) {
    GiveShares(terms, table);
  } else {
    table.Give({.kind = StepKind::kLeft,
                .party = 0,
                .slings_before = table.SlingsLeft(),
                .slings = table.SlingsLeft()});
  }
  return std::move(table).Finish();
}

}  // namespace broodpact::shares
