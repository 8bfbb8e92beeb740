// The shares of the rest: by largest remainder, by a divisor method, or by a running method.

#include "client/base/check.h"
#include "client/shares/apportion.h"
#include "client/shares/internal/table.h"
#include "client/shares/method.h"
#include "client/shares/ratio.h"
#include "client/shares/running.h"

namespace broodpact::shares::internal {
namespace {

// Terms have bounds that lie within those of every method: none can refuse them.
template <typename Value>
const Value& Sure(const absl::StatusOr<Value>& value) {
  BP_CHECK(value.ok());
  return *value;
}

void GiveByDivisor(Method method, const RatioLines& lines, Table& table) {
  const std::uint32_t rest = table.SlingsLeft();
  const std::vector<Claimant>& claimants = lines.claimants;
  const absl::StatusOr<std::vector<std::uint32_t>> shared = ShareBy(method, rest, claimants);
  const std::vector<std::uint32_t>& slings = Sure(shared);
  const std::uint64_t weight_sum = WeightSum(claimants);
  const auto standing = [&](std::size_t i) {
    return Standing{.party = lines.parties[i], .slings = slings[i], .weight = claimants[i].weight};
  };
  for (std::size_t i = 0; i < claimants.size(); ++i) {
    table.Write({.kind = StepKind::kQuotient,
                 .party = lines.parties[i],
                 .slings_before = rest,
                 .slings = slings[i],
                 .weight = claimants[i].weight,
                 .weight_sum = weight_sum});
  }
  if (claimants.size() < 2) return;
  const Margin margin = MarginOf(method, slings, claimants);
  const TieRule tie = margin.tied
                          ? TieRuleOf(claimants[margin.last].weight, claimants[margin.next].weight)
                          : TieRule::kNoTie;
  table.Write({.kind = StepKind::kMargin,
               .party = lines.parties[margin.last],
               .weight_sum = weight_sum,
               .last = standing(margin.last),
               .next = standing(margin.next),
               .tie = tie});
}

void GiveRunning(RunningMethod method, std::uint32_t carried, const RatioLines& lines,
                 Table& table) {
  const std::uint32_t rest = table.SlingsLeft();
  const absl::StatusOr<std::vector<RunningAward>> shared =
      ShareNext(method, {.slings_before = carried, .slings = rest}, lines.claimants);
  const std::vector<RunningAward>& awards = Sure(shared);
  const std::uint64_t weight_sum = WeightSum(lines.claimants);
  table.Write({.kind = StepKind::kCarried,
               .slings_before = rest,
               .weight_sum = weight_sum,
               .slings_so_far = carried,
               .slings_total = carried + rest});
  for (std::size_t i = 0; i < awards.size(); ++i) {
    table.Write({.kind = StepKind::kRunning,
                 .party = lines.parties[i],
                 .slings_before = rest,
                 .slings = awards[i].slings,
                 .weight = lines.claimants[i].weight,
                 .weight_sum = weight_sum,
                 .remainder = awards[i].remainder,
                 .slings_so_far = awards[i].slings_before,
                 .slings_total = carried + rest});
  }
}

}  // namespace

void GiveByRemainder(const RatioLines& lines, Table& table) {
  const std::vector<Claimant>& claimants = lines.claimants;
  const absl::StatusOr<std::vector<Award>> shared =
      ShareByLargestRemainder(table.SlingsLeft(), claimants);
  const std::vector<Award>& awards = Sure(shared);
  const std::uint64_t weight_sum = WeightSum(claimants);
  std::vector<Step> quotas;
  for (std::size_t i = 0; i < awards.size(); ++i) {
    quotas.push_back({.kind = lines.quota_kind,
                      .party = lines.parties[i],
                      .slings_before = table.SlingsLeft(),
                      .slings = awards[i].slings_of_quota,
                      .weight = claimants[i].weight,
                      .weight_sum = weight_sum,
                      .remainder = awards[i].remainder});
  }
  for (const Step& quota : quotas) table.Write(quota);

  const std::vector<std::size_t> order = ByRemainder(awards, claimants);
  const std::size_t first_without = table.SlingsLeft();
  for (std::size_t i = 0; i < first_without; ++i) {
    const Step& without = quotas[order[first_without]];
    Step step = quotas[order[i]];
    if (step.remainder == without.remainder) step.tie = TieRuleOf(step.weight, without.weight);
    step.kind = StepKind::kRemainder;
    step.slings_before = table.SlingsLeft();
    step.slings = 1;
    table.Write(step);
  }
}

void GiveShares(const facts::Terms& terms, const Occasion& occasion, Table& table) {
  table.NoteRatio();
  RatioLines lines{.claimants = ClaimantsOf(terms, occasion.sac_number)};
  for (const facts::RatioShare& share : SharesOf(terms, occasion.sac_number)) {
    lines.parties.push_back(share.party);
  }
  const std::optional<RunningMethod> running = RunningMethodOf(terms);
  if (running && lines.claimants.size() > 1) {
    GiveRunning(*running, occasion.carried_slings, lines, table);
  } else if (terms.apportioning.method == Method::kLargestRemainder || running) {
    GiveByRemainder(lines, table);
  } else {
    GiveByDivisor(terms.apportioning.method, lines, table);
  }
}

}  // namespace broodpact::shares::internal
