#include "client/base/merkle_proof.h"

#include <algorithm>
#include <bit>
#include <optional>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"

namespace broodpact {
namespace {

absl::Status SizeFault(std::string_view fault) {
  return Fail(absl::StatusCode::kInvalidArgument, "TREE_SIZE",
              fmt::format("{}; ask the server for another head", fault));
}

absl::Status LengthFault(std::size_t hashes) {
  return Fail(absl::StatusCode::kInvalidArgument, "PROOF_LENGTH",
              fmt::format("a proof of {} hashes does not belong to this place of the tree; ask the "
                          "server for it again",
                          hashes));
}

absl::Status Wrong(std::string_view what) {
  return Fail(absl::StatusCode::kInvalidArgument, "PROOF_WRONG",
              fmt::format("{}; keep both heads, and show them to a registrar", what));
}

absl::Status CheckPlace(std::uint64_t index, std::uint64_t size) {
  if (size == 0) return SizeFault("a tree of no leaves contains none");
  if (size > kMerkleLeavesMax) return SizeFault(fmt::format("a tree has no {} leaves", size));
  if (index < size) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kInvalidArgument, "LEAF_INDEX",
      fmt::format("the tree has {} leaves, and none with number {}; sync first", size, index));
}

absl::Status CheckSizes(std::uint64_t first, std::uint64_t second) {
  if (second > kMerkleLeavesMax) return SizeFault(fmt::format("a tree has no {} leaves", second));
  if (first <= second) return absl::OkStatus();
  return SizeFault(fmt::format("the later tree has {} leaves, the earlier {}", second, first));
}

// A subtree's number in its level, and that of the last subtree: `fn` and `sn` of the RFC. Where a
// level has no right sibling for the last one, it stands in the next level as it is.
struct Climb {
  std::uint64_t place = 0;
  std::uint64_t last = 0;

  bool at_root() const { return last == 0; }
  bool IsRightChild() const { return (place & 1) != 0; }
  bool HasLeftSibling() const { return IsRightChild() || place == last; }

  void Up() {
    place >>= 1;
    last >>= 1;
  }
  // From the last subtree of its level to the level where it is a right child.
  void SkipLevelsWithoutSibling() {
    while (!IsRightChild() && place != 0) Up();
  }
};

// Leaves begin .. begin + size - 1 of a tree, as the method splits them: the largest power of two
// in `size` divides `begin`.
struct Range {
  std::uint64_t begin = 0;
  std::uint64_t size = 0;

  Range Left() const { return {.begin = begin, .size = std::bit_floor(size - 1)}; }
  Range Right() const {
    const Range left = Left();
    return {.begin = begin + left.size, .size = size - left.size};
  }
};

// The hash of a range that is not empty, by the complete subtrees that it consists of.
absl::StatusOr<Hash> HashOf(const MerkleNodes& nodes, const Range& range) {
  std::optional<Hash> hash;
  for (std::uint64_t left = range.size; left != 0;) {
    const auto level = static_cast<std::uint32_t>(std::countr_zero(left));
    left -= std::uint64_t{1} << level;
    const MerklePlace place{.level = level, .index = (range.begin + left) >> level};
    BP_ASSIGN_OR_RETURN(const Hash subtree, nodes.HashAt(place));
    hash = hash ? MerkleNodeHash(subtree, *hash) : subtree;
  }
  BP_CHECK(hash.has_value());
  return *hash;
}

}  // namespace

absl::Status VerifyInclusion(const Hash& leaf_hash, std::uint64_t index,
                             std::span<const Hash> proof, const MerkleHead& head) {
  BP_RETURN_IF_ERROR(CheckPlace(index, head.size));
  if (proof.size() > kMerkleProofHashesMax) return LengthFault(proof.size());
  Climb climb{.place = index, .last = head.size - 1};
  Hash root = leaf_hash;
  for (const Hash& sibling : proof) {
    if (climb.at_root()) return LengthFault(proof.size());
    if (climb.HasLeftSibling()) {
      root = MerkleNodeHash(sibling, root);
      climb.SkipLevelsWithoutSibling();
    } else {
      root = MerkleNodeHash(root, sibling);
    }
    climb.Up();
  }
  if (!climb.at_root()) return LengthFault(proof.size());
  if (root != head.root) return Wrong("the leaf is not at its place in the tree");
  return absl::OkStatus();
}

// NOLINTNEXTLINE(readability-function-cognitive-complexity): RFC 9162, 2.1.4.2, step by step.
absl::Status VerifyConsistency(const MerkleHead& first, const MerkleHead& second,
                               std::span<const Hash> proof) {
  BP_RETURN_IF_ERROR(CheckSizes(first.size, second.size));
  if (proof.size() > kMerkleProofHashesMax) return LengthFault(proof.size());
  if (first.size == 0 || first.size == second.size) {
    if (!proof.empty()) return LengthFault(proof.size());
    const Hash due = first.size == 0 ? MerkleEmptyRoot() : second.root;
    if (first.root != due) return Wrong("two roots of one size differ");
    return absl::OkStatus();
  }

  // The proof begins with the largest subtree that ends where the earlier tree ends; where that is
  // the earlier tree itself, its root is known and left out.
  if (proof.empty()) return LengthFault(proof.size());
  const bool is_complete = std::has_single_bit(first.size);
  Hash first_root = is_complete ? first.root : proof.front();
  Hash second_root = first_root;
  Climb climb{.place = first.size - 1, .last = second.size - 1};
  while (climb.IsRightChild()) climb.Up();
  for (const Hash& sibling : proof.subspan(is_complete ? 0 : 1)) {
    if (climb.at_root()) return LengthFault(proof.size());
    if (climb.HasLeftSibling()) {
      first_root = MerkleNodeHash(sibling, first_root);
      second_root = MerkleNodeHash(sibling, second_root);
      climb.SkipLevelsWithoutSibling();
    } else {
      second_root = MerkleNodeHash(second_root, sibling);
    }
    climb.Up();
  }
  if (!climb.at_root()) return LengthFault(proof.size());
  if (first_root != first.root || second_root != second.root) {
    return Wrong("the later tree does not begin with the earlier one");
  }
  return absl::OkStatus();
}

absl::StatusOr<std::vector<Hash>> InclusionProof(const MerkleNodes& nodes, std::uint64_t index,
                                                 std::uint64_t size) {
  BP_RETURN_IF_ERROR(CheckPlace(index, size));
  std::vector<Hash> proof;  // from the root down
  Range range{.begin = 0, .size = size};
  while (range.size > 1) {
    const bool goes_left = index < range.Right().begin;
    BP_ASSIGN_OR_RETURN(const Hash sibling,
                        HashOf(nodes, goes_left ? range.Right() : range.Left()));
    proof.push_back(sibling);
    range = goes_left ? range.Left() : range.Right();
  }
  std::ranges::reverse(proof);
  return proof;
}

absl::StatusOr<std::vector<Hash>> ConsistencyProof(const MerkleNodes& nodes,
                                                   std::uint64_t first_size,
                                                   std::uint64_t second_size) {
  BP_RETURN_IF_ERROR(CheckSizes(first_size, second_size));
  std::vector<Hash> proof;  // from the root down
  if (first_size == 0 || first_size == second_size) return proof;
  Range range{.begin = 0, .size = second_size};
  while (range.begin + range.size != first_size) {
    const bool goes_left = first_size <= range.Right().begin;
    BP_ASSIGN_OR_RETURN(const Hash sibling,
                        HashOf(nodes, goes_left ? range.Right() : range.Left()));
    proof.push_back(sibling);
    range = goes_left ? range.Left() : range.Right();
  }
  // Where the range is the whole of the earlier tree, the verifier has its root already.
  if (range.begin != 0) {
    BP_ASSIGN_OR_RETURN(const Hash subtree, HashOf(nodes, range));
    proof.push_back(subtree);
  }
  std::ranges::reverse(proof);
  return proof;
}

}  // namespace broodpact
