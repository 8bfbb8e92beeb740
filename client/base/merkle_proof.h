#pragma once

// Proofs about a Merkle tree: that a leaf is in it at its place, and that a tree has grown out of
// an earlier one without a change.
//
// Method: RFC 9162 (Laurie, Messeri & Stradling, 2021): section 2.1.3 for inclusion, section 2.1.4
// for consistency; verification step by step as in 2.1.3.2 and 2.1.4.2.
//
// Pure. Hostile sizes, places and lengths cost at most 49 hashes.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/merkle.h"

namespace broodpact {

// Hashes of a proof at most: the height of a tree of kMerkleLeavesMax leaves, and one more for a
// proof of consistency.
inline constexpr std::size_t kMerkleProofHashesMax = 49;

// Checks that the leaf with hash `leaf_hash` is number `index`, from 0, of the tree of `head`.
//
// Errors, in this order: INVALID_ARGUMENT with reason TREE_SIZE (of no leaves, or of more than
// kMerkleLeavesMax), LEAF_INDEX (not below the size), PROOF_LENGTH (more or fewer hashes than
// belong to that leaf), PROOF_WRONG (leads to another root).
absl::Status VerifyInclusion(const Hash& leaf_hash, std::uint64_t index,
                             std::span<const Hash> proof, const MerkleHead& head);

// Checks that the tree of `second` begins with all leaves of the tree of `first`, in the same
// order. A tree is consistent with itself and with the empty tree, by an empty proof.
//
// Errors, in this order: INVALID_ARGUMENT with reason TREE_SIZE (`second` is smaller than `first`,
// or has more than kMerkleLeavesMax leaves), PROOF_LENGTH (more or fewer hashes than belong to
// these sizes), PROOF_WRONG (leads to another root of either).
absl::Status VerifyConsistency(const MerkleHead& first, const MerkleHead& second,
                               std::span<const Hash> proof);

// Proves that leaf `index` is in the tree of the first `size` leaves; `nodes` has all of those. At
// most two reads a level.
// Errors: INVALID_ARGUMENT with reason TREE_SIZE or LEAF_INDEX, as above; those of `nodes`.
absl::StatusOr<std::vector<Hash>> InclusionProof(const MerkleNodes& nodes, std::uint64_t index,
                                                 std::uint64_t size);

// Proves that the tree of the first `second_size` leaves begins with that of the first
// `first_size`; `nodes` has all of those. At most two reads a level.
// Errors: INVALID_ARGUMENT with reason TREE_SIZE, as above; those of `nodes`.
absl::StatusOr<std::vector<Hash>> ConsistencyProof(const MerkleNodes& nodes,
                                                   std::uint64_t first_size,
                                                   std::uint64_t second_size);

}  // namespace broodpact
