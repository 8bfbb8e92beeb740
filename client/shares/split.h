#pragma once

// From signed terms and a count to whole slings per party, with the working line by line.
//
// Order: a small clutch goes whole to one party; else the prior claims one after the other, each
// from what is left; then the shares of the rest, by largest remainder. Slings that no share
// covers (prior claims only) stay with the party named first.
//
// Pure, and whole-number arithmetic throughout.

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/facts/terms.h"

namespace broodpact::shares {

enum class StepKind : std::uint8_t {
  kCounted,      // slings at the start
  kSmallClutch,  // all to one party
  kPriorClaim,   // some to one party; claim says which
  kClaimIdle,    // a prior claim whose condition does not hold
  kQuota,        // a party's exact quota of the rest and its whole part
  kRemainder,    // one sling more for a large remainder
  kLeft          // the rest without shares, to the first party
};

// Why a party gets a sling left over before one that has as large a remainder and gets none.
enum class TieRule : std::uint8_t {
  kNoTie,        // no party with this remainder goes without
  kLargerShare,  // its weight is larger
  kLowerKeeper   // equal weights: its keeper id is lower
};

// One line of the working.
struct Step {
  StepKind kind = StepKind::kCounted;
  std::uint32_t party = 0;          // index into the terms' parties; 0 for kCounted
  std::uint32_t claim = 0;          // index into the prior claims, for kPriorClaim and kClaimIdle
  std::uint32_t slings_before = 0;  // left to share before this line; for quotas: the rest shared
  std::uint32_t slings = 0;         // given by this line
  std::uint64_t weight = 0;         // for kQuota and kRemainder
  std::uint64_t weight_sum = 0;     // for kQuota and kRemainder
  std::uint64_t remainder = 0;      // in parts of weight_sum, for kQuota and kRemainder
  TieRule tie = TieRule::kNoTie;    // for kRemainder

  friend bool operator==(const Step&, const Step&) = default;
};

struct Split {
  std::uint32_t slings_counted = 0;
  std::vector<std::uint32_t> slings;  // one a party, in the order of the terms; sum is the count
  std::vector<Step> working;          // what its lines give adds up to the count too

  friend bool operator==(const Split&, const Split&) = default;
};

// Computes the split. `terms` come from ParseAgreement.
//
// A prior claim gets the least of: its amount (a part in hundredths of a per cent is taken of what
// is left before it, and rounded down), its cap, and what is left. An empty count has one line.
// The parties' order in the terms decides nothing but who is first where no share covers the rest.
//
// Errors: INVALID_ARGUMENT with reason SLINGS_OUT_OF_RANGE.
absl::StatusOr<Split> SplitOf(const facts::Terms& terms, std::uint32_t slings_counted);

// One line of the working as a sentence. `names` has the parties' names in the terms' order, and
// `step` comes from a split by these `terms`.
std::string Sentence(const Step& step, const facts::Terms& terms,
                     const std::vector<std::string>& names);

// The terms as sentences, in the order in which they apply; remarks come last, as written.
// `names` as for Sentence.
std::vector<std::string> Clauses(const facts::Terms& terms, const std::vector<std::string>& names);

}  // namespace broodpact::shares
