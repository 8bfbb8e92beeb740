#pragma once

// Whole slings for one clutch by any of the published methods of apportionment, behind one call.
//
// Largest remainder (Hamilton, 1792) is in apportion.h. The others are divisor methods: the slings
// go out one by one, each to the party whose weight divided by d(slings it has) is largest. They
// differ in d alone:
//
//   Sainte-Lague      d(n) = n + 1/2          A. Sainte-Lague 1910; Webster 1832
//   D'Hondt           d(n) = n + 1            V. D'Hondt 1878; Jefferson 1792
//   Adams             d(n) = n                J. Q. Adams 1832
//   Huntington-Hill   d(n) = sqrt(n (n + 1))  J. A. Hill 1911; E. V. Huntington 1928
//
// What each promises, beside slings that add up (Balinski & Young, Fair Representation, 1982):
//
//                     a sling more to share    nobody a whole sling
//                     takes none from anybody  off the quota
//   largest remainder no                       yes
//   Sainte-Lague      yes                      no, though rarely off
//   D'Hondt           yes                      never below its whole part; favours large shares
//   Adams             yes                      never above it rounded up; favours small shares
//   Huntington-Hill   yes                      no, though rarely off; favours small shares a little
//
// No method has both and also shares alike when weights change; running.h has both for weights
// that stay. By Adams and Huntington-Hill everybody gets a first sling before anybody a second.
//
// Pure, and whole-number arithmetic throughout: every replica gets the same answer.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/terms.h"
#include "client/shares/claimant.h"

namespace broodpact::shares {

using facts::Method;

// Shares `slings` (0 .. kSlingsSharedMax) by `method`. Returns the slings of each claimant, in that
// order; they add up to `slings`.
//
// Equal claims to a sling are settled by ComesBefore, whatever the method: claimants in another
// order get the same. Time: O(n log n) for n claimants, however many the slings.
//
// Errors: those of CheckClaimants, with the bounds of this room.
absl::StatusOr<std::vector<std::uint32_t>> ShareBy(Method method, std::uint32_t slings,
                                                   std::span<const Claimant> claimants);

// Where a divisor method drew the line: whoever got the last sling, and whoever came next.
struct Margin {
  std::size_t last = 0;  // index into the claimants; its last sling has the smallest claim of all
  std::size_t next = 0;  // its next sling would have the largest claim; may be the same claimant
  bool tied = false;     // the two claims are equal, so that ComesBefore settled it
};

// The margin of what ShareBy gave, in the order of `claimants`, by a method other than largest
// remainder. At least one sling was given.
Margin MarginOf(Method method, std::span<const std::uint32_t> slings,
                std::span<const Claimant> claimants);

}  // namespace broodpact::shares
