#include "client/shares/internal/table.h"

#include <algorithm>
#include <utility>

#include "client/base/check.h"

namespace broodpact::shares::internal {

Table::Table(const facts::Terms& terms, std::uint32_t slings_counted, const Occasion& occasion)
    : sac_number_(occasion.sac_number), slings_left_(slings_counted) {
  split_.slings_counted = slings_counted;
  for (const facts::Party& party : terms.parties) split_.keepers.push_back(party.keeper);
  split_.slings.resize(terms.parties.size());
  split_.working.push_back(
      {.kind = StepKind::kCounted, .sac_number = sac_number_, .slings_before = slings_counted});
}

std::uint32_t Table::IndexOf(const KeeperId& keeper) {
  const auto found = std::ranges::find(split_.keepers, keeper);
  const auto index = static_cast<std::uint32_t>(found - split_.keepers.begin());
  if (found == split_.keepers.end()) {
    split_.keepers.push_back(keeper);
    split_.slings.push_back(0);
  }
  return index;
}

void Table::Write(Step step) {
  BP_CHECK(step.party < split_.slings.size());
  step.sac_number = sac_number_;
  if (step.kind == StepKind::kSireSide) {
    BP_CHECK(step.slings <= split_.slings[step.party]);
    split_.slings[step.party] -= step.slings;
    slings_left_ += step.slings;
  } else {
    BP_CHECK(step.slings <= slings_left_);
    split_.slings[step.party] += step.slings;
    slings_left_ -= step.slings;
  }
  split_.working.push_back(step);
}

void Table::NoteRatio() {
  split_.slings_by_ratio = slings_left_;
  slings_before_ratio_ = split_.slings;
}

std::uint32_t Table::SlingsByRatio(std::uint32_t party) const {
  BP_CHECK(party < slings_before_ratio_.size());
  return split_.slings[party] - slings_before_ratio_[party];
}

Split Table::Finish() && {
  BP_CHECK(slings_left_ == 0);
  return std::move(split_);
}

TieRule TieRuleOf(std::uint64_t winner_weight, std::uint64_t loser_weight) {
  return winner_weight != loser_weight ? TieRule::kLargerShare : TieRule::kLowerKeeper;
}

}  // namespace broodpact::shares::internal
