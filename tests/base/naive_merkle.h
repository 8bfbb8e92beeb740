#pragma once

// The naive twin of a Merkle tree: the recursive definitions of RFC 9162, section 2.1, word for
// word, over all leaf hashes at once.

#include <bit>
#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "client/base/check.h"
#include "client/base/merkle.h"
#include "client/base/status.h"

namespace broodpact {

using Leaves = std::span<const Hash>;

inline std::size_t NaiveSplit(Leaves leaves) {
  return std::bit_floor(leaves.size() - 1);
}

// MTH of section 2.1.1.
inline Hash NaiveRoot(Leaves leaves) {
  if (leaves.empty()) return Sha256("");
  if (leaves.size() == 1) return leaves.front();
  const std::size_t k = NaiveSplit(leaves);
  const Hash left = NaiveRoot(leaves.first(k));
  const Hash right = NaiveRoot(leaves.subspan(k));
  return Sha256({std::string_view("\1", 1), ViewOf(left), ViewOf(right)});
}

// A proof, and the side of each of its hashes: two proofs of one shape are computed with alike.
struct NaiveProof {
  std::vector<Hash> hashes;
  std::string shape;
};

// PATH of section 2.1.3.1.
inline NaiveProof NaivePath(std::size_t index, Leaves leaves) {
  if (leaves.size() == 1) return {};
  const std::size_t k = NaiveSplit(leaves);
  const bool goes_left = index < k;
  NaiveProof proof =
      goes_left ? NaivePath(index, leaves.first(k)) : NaivePath(index - k, leaves.subspan(k));
  proof.hashes.push_back(NaiveRoot(goes_left ? leaves.subspan(k) : leaves.first(k)));
  proof.shape.push_back(goes_left ? 'r' : 'l');
  return proof;
}

// SUBPROOF of section 2.1.4.1; `is_whole` is its b.
inline NaiveProof NaiveSubproof(std::size_t first, Leaves leaves, bool is_whole) {
  if (first == leaves.size()) {
    if (is_whole) return {};
    return {.hashes = {NaiveRoot(leaves)}, .shape = "s"};
  }
  const std::size_t k = NaiveSplit(leaves);
  const bool goes_left = first <= k;
  NaiveProof proof = goes_left ? NaiveSubproof(first, leaves.first(k), is_whole)
                               : NaiveSubproof(first - k, leaves.subspan(k), false);
  proof.hashes.push_back(NaiveRoot(goes_left ? leaves.subspan(k) : leaves.first(k)));
  proof.shape.push_back(goes_left ? 'r' : 'l');
  return proof;
}

// PROOF of section 2.1.4.1, for 0 < first <= size.
inline NaiveProof NaiveConsistency(std::size_t first, Leaves leaves) {
  return NaiveSubproof(first, leaves, true);
}

// Hashes of so many leaves, all different.
inline std::vector<Hash> ManyLeaves(std::size_t count) {
  std::vector<Hash> leaves;
  for (std::size_t i = 0; i < count; ++i) leaves.push_back(MerkleLeafHash(std::to_string(i)));
  return leaves;
}

// A tree that keeps all its nodes in memory and counts how often it is asked.
class MemoryTree final : public MerkleNodes {
 public:
  explicit MemoryTree(Leaves leaves) {
    for (const Hash& leaf : leaves) {
      std::vector<MerkleNode> completed;
      BP_CHECK(frontier_.Append(leaf, &completed).ok());
      for (const MerkleNode& node : completed)
        BP_CHECK(nodes_.emplace(node.place, node.hash).second);
      heads_.push_back({.size = frontier_.size(), .root = frontier_.Root()});
    }
  }

  absl::StatusOr<Hash> HashAt(const MerklePlace& place) const override {
    ++reads_;
    const auto found = nodes_.find(place);
    if (found != nodes_.end()) return found->second;
    return Fail(absl::StatusCode::kNotFound, "NO_SUCH_NODE", "the test has no such node");
  }

  // The head after the first `size` leaves.
  MerkleHead HeadOf(std::uint64_t size) const {
    if (size == 0) return {.size = 0, .root = MerkleEmptyRoot()};
    return heads_.at(size - 1);
  }

  const MerkleFrontier& frontier() const { return frontier_; }
  std::size_t nodes() const { return nodes_.size(); }

  // Reads since the last time that this was asked.
  std::size_t TakeReads() const { return std::exchange(reads_, 0); }

 private:
  MerkleFrontier frontier_;
  std::map<MerklePlace, Hash> nodes_;
  std::vector<MerkleHead> heads_;
  mutable std::size_t reads_ = 0;
};

}  // namespace broodpact
