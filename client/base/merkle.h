#pragma once

// The root of a list that only grows: one hash that stands for all of an append-only log.
//
// Method: RFC 9162 (Laurie, Messeri & Stradling, 2021), section 2.1.1, over SHA-256. A leaf hashes
// to SHA-256(0x00, leaf), a node to SHA-256(0x01, left, right), and nothing at all to SHA-256 of
// nothing; a list of n leaves is split after the largest power of two that is smaller than n. The
// first byte keeps a node from passing as a leaf.
//
// A root does not say of how many leaves it is: one of other sizes may verify where the shape of
// the path is the same. Whoever signs a root signs its size with it.
//
// Pure.

#include <compare>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"

namespace broodpact {

// Leaves of a tree at most: far above any log, and far below the end of 64 bits.
inline constexpr std::uint64_t kMerkleLeavesMax = std::uint64_t{1} << 48;

Hash MerkleLeafHash(std::string_view leaf);
Hash MerkleNodeHash(const Hash& left, const Hash& right);

// The root of no leaves.
Hash MerkleEmptyRoot();

// What a signed head says of a tree.
struct MerkleHead {
  std::uint64_t size = 0;
  Hash root{};

  friend bool operator==(const MerkleHead&, const MerkleHead&) = default;
};

// A complete subtree: the 2^level leaves from leaf index * 2^level on. Leaves are at level 0. Once
// the tree has grown over it, its hash never changes.
struct MerklePlace {
  std::uint32_t level = 0;
  std::uint64_t index = 0;

  friend auto operator<=>(const MerklePlace&, const MerklePlace&) = default;
};

struct MerkleNode {
  MerklePlace place{};
  Hash hash{};

  friend bool operator==(const MerkleNode&, const MerkleNode&) = default;
};

// Where the hashes of complete subtrees are kept. A store implements it.
class MerkleNodes {
 public:
  virtual ~MerkleNodes() = default;
  // The hash of the subtree at `place`. Asked only for subtrees within the size that the caller
  // named.
  // Errors: those of the store.
  virtual absl::StatusOr<Hash> HashAt(const MerklePlace& place) const = 0;
};

// All that is needed of a tree to go on growing it: the roots of its complete subtrees, one for
// each bit that is set in its size, hence 48 at most.
class MerkleFrontier {
 public:
  // Of no leaves.
  MerkleFrontier() = default;

  // Of the first `size` leaves of a tree, by one read for each bit that is set in `size`.
  // Errors: RESOURCE_EXHAUSTED with reason TREE_FULL (`size` is above kMerkleLeavesMax); those of
  // `nodes`.
  static absl::StatusOr<MerkleFrontier> Read(const MerkleNodes& nodes, std::uint64_t size);

  // Leaves so far.
  std::uint64_t size() const { return size_; }

  // The root of the leaves so far.
  Hash Root() const;

  // The roots of the complete subtrees, the largest first.
  std::vector<MerkleNode> Peaks() const;

  // Appends the hash of a leaf. Adds the subtrees that this completes to `completed`, if there is
  // one: the leaf itself first, then upwards; two a leaf on average.
  // Errors: RESOURCE_EXHAUSTED with reason TREE_FULL, and nothing changes.
  absl::Status Append(const Hash& leaf_hash, std::vector<MerkleNode>* completed = nullptr);

  // frontier = varint(size) hash{bits that are set in size}, of the largest subtree first.
  std::string Encode() const;

  // Errors: DATA_LOSS with reason TREE_DAMAGED for bytes that Encode does not write.
  static absl::StatusOr<MerkleFrontier> Decode(std::string_view bytes);

  friend bool operator==(const MerkleFrontier&, const MerkleFrontier&) = default;

 private:
  std::uint64_t size_ = 0;
  std::vector<Hash> peaks_;  // of the largest subtree first
};

}  // namespace broodpact
