#pragma once

// From signed terms and a count to whole slings per party, with the working line by line.
//
// Order: a small clutch goes whole to one party; else the prior claims one after the other, each
// from what is left; then the shares of the rest, by the method of the terms or, where remainders
// carry over, by the running method; then what the males' owners got of the rest, between the
// owners of the possible sires. Slings that no share covers (prior claims only) stay with the party
// named first.
//
// Pure, and whole-number arithmetic throughout.

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/facts/terms.h"
#include "client/shares/occasion.h"

namespace broodpact::shares {

enum class StepKind : std::uint8_t {
  kCounted,      // slings at the start
  kSmallClutch,  // all to one party
  kPriorClaim,   // some to one party; claim says which
  kClaimIdle,    // a prior claim whose condition does not hold
  kQuota,        // a party's exact quota of the rest and its whole part
  kRemainder,    // one sling more for a large remainder
  kQuotient,     // what a party gets of the rest by a divisor method
  kMargin,       // who got the last sling by a divisor method, and who came next
  kCarried,      // what the same parties shared before at the same ratio
  kRunning,      // what a party gets of the rest where remainders carry over
  kLeft,         // the rest without shares, to the first party
  kSireSide,     // what a male's owner got of the rest is put back, to be divided again
  kSirePart      // a sire owner's exact quota of that, and its whole part
};

// Why a party gets a sling before one that has as good a claim and does not get it.
enum class TieRule : std::uint8_t {
  kNoTie,        // no party with this claim goes without
  kLargerShare,  // its weight is larger
  kLowerKeeper   // equal weights: its keeper id is lower
};

// A party, what it has and its weight.
struct Standing {
  std::uint32_t party = 0;  // index into Split::keepers
  std::uint32_t slings = 0;
  std::uint64_t weight = 0;

  friend bool operator==(const Standing&, const Standing&) = default;
};

// One line of the working.
struct Step {
  StepKind kind = StepKind::kCounted;
  std::uint32_t party = 0;          // index into Split::keepers; 0 for kCounted and kCarried
  std::uint32_t claim = 0;          // index into the prior claims, for kPriorClaim and kClaimIdle
  std::uint32_t sac_number = 1;     // of this female under this loan
  std::uint32_t slings_before = 0;  // left to share before this line; for quotas: the rest shared
  std::uint32_t slings = 0;         // given by this line; put back by kSireSide
  std::uint64_t weight = 0;         // for all lines of a ratio
  std::uint64_t weight_sum = 0;     // for all lines of a ratio
  std::uint64_t remainder = 0;      // in parts of weight_sum, for quotas and kRunning
  std::uint32_t slings_so_far = 0;  // of clutches before: of all for kCarried, else the party's
  std::uint32_t slings_total = 0;   // of all clutches with this one, for kCarried and kRunning
  Standing last{};                  // for kMargin
  Standing next{};                  // for kMargin
  TieRule tie = TieRule::kNoTie;    // for kRemainder and kMargin

  friend bool operator==(const Step&, const Step&) = default;
};

struct Split {
  std::uint32_t slings_counted = 0;
  // The parties in the order of the terms, then owners of possible sires who are no parties.
  std::vector<KeeperId> keepers;
  std::vector<std::uint32_t> slings;  // one a keeper; sum is the count
  std::uint32_t slings_by_ratio = 0;  // of the rest, shared by ratio: what carries over
  std::vector<Step> working;          // what its lines give, less what is put back, is the count

  friend bool operator==(const Split&, const Split&) = default;
};

// Computes the split. `terms` come from ParseAgreement, and carried slings from CarriedAfter.
//
// A prior claim gets the least of its cap, what is left, and the larger of its floor and its amount
// (a part in hundredths of a per cent is taken of what is left before it, and rounded down). An
// empty count has one line. The parties' order in the terms decides nothing but who is first where
// no share covers the rest.
//
// The owners of possible sires, with the males' owners who are parties, divide by the rule of the
// terms; more than facts::kSireOwnersMax of them do not divide.
//
// Errors: INVALID_ARGUMENT with reason SLINGS_OUT_OF_RANGE.
absl::StatusOr<Split> SplitOf(const facts::Terms& terms, std::uint32_t slings_counted,
                              const Occasion& occasion = {});

// One line of the working as a sentence. `names` has the names of the split's keepers in order, and
// `step` comes from a split by these `terms`.
std::string Sentence(const Step& step, const facts::Terms& terms,
                     const std::vector<std::string>& names);

// What people call those whom the terms name.
struct ClauseNames {
  std::vector<std::string> parties{};  // in the order of the terms
  std::vector<std::string> females{};  // in the order of the coverage
  std::string counter{};
  std::string witness{};
  std::string arbiter{};
};

// The terms as sentences, in the order in which they apply; remarks come last, as written.
std::vector<std::string> Clauses(const facts::Terms& terms, const ClauseNames& names);

}  // namespace broodpact::shares
