#pragma once

// Whole slings for clutch after clutch between the same parties at the same ratio: remainders carry
// over, so that nobody's total is ever a whole sling off the agreed share of all slings so far.
//
// Largest remainder on running totals would take slings back now and then (the Alabama paradox).
// The methods here share every total so that one sling more takes none from anybody, and a clutch
// is the difference of two totals. Sling after sling, whoever may have the next one without being
// ahead and would fall behind first gets it:
//
//   quota     M. L. Balinski & H. P. Young, The quota method of apportionment, Amer. Math. Monthly
//             82 (1975) 701-730. Everybody has the quota rounded down or up. Of those whom a sling
//             more does not lift above it rounded up, it goes to the largest weight / (slings + 1),
//             so that larger shares get theirs earlier.
//   chairman  R. Tijdeman, The chairman assignment problem, Discrete Mathematics 32 (1980) 323-330.
//             Nobody is further off the quota than 1 - 1 / (2 n - 2) slings, for n parties; no
//             method has a smaller bound. Half a sling for two parties.
//
// What was carried over needs no record but the slings shared so far: the same total gives the same
// slings, in however many clutches it came. 4 : 2 is the ratio 2 : 1.
//
// Pure, and whole-number arithmetic throughout: every replica gets the same answer.

#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/terms.h"
#include "client/shares/claimant.h"

namespace broodpact::shares {

enum class RunningMethod : std::uint8_t { kQuota, kChairman };

// As the terms bound them; totals are those of 1,000 of the largest clutches.
inline constexpr Bounds kRunningBounds{
    .claimants = facts::kPartiesMax, .weight = facts::kWeightMax, .slings = kSlingsSharedMax};

// One clutch in the order of clutches.
struct NextClutch {
  std::uint32_t slings_before = 0;  // shared by all clutches before it
  std::uint32_t slings = 0;         // to share now; with those before at most kSlingsSharedMax
};

// What one party receives of a clutch, with what lets both parties check it on paper: the quota is
// its exact share of all slings so far, this clutch's among them.
struct RunningAward {
  std::uint32_t slings = 0;           // what the party receives of this clutch
  std::uint32_t slings_before = 0;    // what it has of the clutches before
  std::uint32_t slings_of_quota = 0;  // the whole part of its exact quota
  std::uint64_t remainder = 0;        // the rest of the quota, in parts of the sum of weights

  friend bool operator==(const RunningAward&, const RunningAward&) = default;
};

// Shares the total of all clutches so far. Returns the slings of each claimant, in that order; they
// add up to `slings_total`, and nobody's are fewer than of a smaller total.
//
// Equal claims to a sling are settled by ComesBefore. Time: one step a sling from nothing, but no
// more steps than the sum of weights has the smallest one in it (10 for 40 : 40 : 10 : 10, at most
// 15 million), each linear in the number of claimants; however large the total.
//
// Errors: those of CheckClaimants, with kRunningBounds.
absl::StatusOr<std::vector<std::uint32_t>> ShareTotal(RunningMethod method,
                                                      std::uint32_t slings_total,
                                                      std::span<const Claimant> claimants);

// Shares one clutch: what ShareTotal gives with it less what it gives without. Returns one award
// per claimant, in that order; they add up to its slings.
//
// Errors: those of ShareTotal for the total with this clutch.
absl::StatusOr<std::vector<RunningAward>> ShareNext(RunningMethod method, const NextClutch& clutch,
                                                    std::span<const Claimant> claimants);

}  // namespace broodpact::shares
