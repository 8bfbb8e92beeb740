#pragma once

// A split under way: every sling leaves the table by a line of the working.

#include <cstdint>
#include <vector>

#include "client/facts/terms.h"
#include "client/shares/claimant.h"
#include "client/shares/occasion.h"
#include "client/shares/split.h"

namespace broodpact::shares::internal {

class Table {
 public:
  Table(const facts::Terms& terms, std::uint32_t slings_counted, const Occasion& occasion);

  std::uint32_t SlingsCounted() const { return split_.slings_counted; }
  std::uint32_t SlingsLeft() const { return slings_left_; }

  // The keeper's index into the split's keepers; a new one if there was none.
  std::uint32_t IndexOf(const KeeperId& keeper);

  // Hands out what `step` gives, or puts back what it puts back.
  void Write(Step step);

  // Says that what is left is shared by ratio.
  void NoteRatio();

  // What a party got since then.
  std::uint32_t SlingsByRatio(std::uint32_t party) const;

  Split Finish() &&;

 private:
  std::uint32_t sac_number_ = 1;
  std::uint32_t slings_left_ = 0;
  Split split_;
  std::vector<std::uint32_t> slings_before_ratio_;
};

// Why `winner` gets a sling and `loser`, whose claim is as good, does not.
TieRule TieRuleOf(std::uint64_t winner_weight, std::uint64_t loser_weight);

// Shares what is on the table by largest remainder, in lines of `quota_kind` and kRemainder.
// `parties` has the claimants' places among the split's keepers.
struct RatioLines {
  StepKind quota_kind = StepKind::kQuota;
  std::vector<std::uint32_t> parties{};
  std::vector<Claimant> claimants{};
};
void GiveByRemainder(const RatioLines& lines, Table& table);

// Shares what is on the table by the shares of this sac.
void GiveShares(const facts::Terms& terms, const Occasion& occasion, Table& table);

// Divides what the males' owners got of the rest, if several males may be the sire.
void DivideSireSide(const facts::Terms& terms, const Occasion& occasion, Table& table);

}  // namespace broodpact::shares::internal
