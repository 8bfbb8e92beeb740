#pragma once

// In which order a pedigree is computed: parents before their offspring, full sibs side by side.
//
// Method: generation by generation (Kahn, "Topological sorting of large networks", CACM 5 (1962)),
// without recursion: a line may be as deep as the pedigree is long.

#include <span>
#include <vector>

#include "absl/status/statusor.h"

#include "client/kinship/parents.h"

namespace broodpact::kinship {

// Errors: INVALID_ARGUMENT with reason PARENT_UNKNOWN (a number past the end).
absl::Status CheckParents(std::span<const Parents> animals);

// Returns the numbers of all animals: founders first, then by generation (one more than that of
// the later parent), within one by the places of sire and dam, then by number.
//
// Errors: as CheckParents; INVALID_ARGUMENT with reason PEDIGREE_CYCLE.
absl::StatusOr<std::vector<Node>> OrderByGeneration(std::span<const Parents> animals);

// The animals of one cycle, each followed by a parent of its own and the last by the first; the
// first is the lowest of them. Empty if there is no cycle. CheckParents says that all is well.
std::vector<Node> CycleIn(std::span<const Parents> animals);

}  // namespace broodpact::kinship
