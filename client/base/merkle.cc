#include "client/base/merkle.h"

#include <bit>

#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/status.h"

namespace broodpact {
namespace {

using namespace std::string_view_literals;

absl::Status TreeFull() {
  return Fail(absl::StatusCode::kResourceExhausted, "TREE_FULL",
              fmt::format("a tree has {} leaves at most; found a new cooperative to go on",
                          kMerkleLeavesMax));
}

absl::Status Damaged() {
  return Fail(absl::StatusCode::kDataLoss, "TREE_DAMAGED",
              "the frontier of the log's tree is damaged; rebuild it from the log");
}

bool HasBit(std::uint64_t number, std::uint32_t bit) {
  return ((number >> bit) & 1) != 0;
}

}  // namespace

Hash MerkleLeafHash(std::string_view leaf) {
  return Sha256({"\0"sv, leaf});
}

Hash MerkleNodeHash(const Hash& left, const Hash& right) {
  return Sha256({"\1"sv, ViewOf(left), ViewOf(right)});
}

Hash MerkleEmptyRoot() {
  return Sha256("");
}

absl::StatusOr<MerkleFrontier> MerkleFrontier::Read(const MerkleNodes& nodes, std::uint64_t size) {
  if (size > kMerkleLeavesMax) return TreeFull();
  MerkleFrontier frontier;
  std::uint64_t begin = 0;
  for (auto level = static_cast<std::uint32_t>(std::bit_width(size)); level-- > 0;) {
    if (!HasBit(size, level)) continue;
    BP_ASSIGN_OR_RETURN(const Hash peak, nodes.HashAt({.level = level, .index = begin >> level}));
    frontier.peaks_.push_back(peak);
    begin += std::uint64_t{1} << level;
  }
  frontier.size_ = size;
  return frontier;
}

Hash MerkleFrontier::Root() const {
  if (peaks_.empty()) return MerkleEmptyRoot();
  Hash root = peaks_.back();
  for (auto peak = peaks_.rbegin() + 1; peak != peaks_.rend(); ++peak) {
    root = MerkleNodeHash(*peak, root);
  }
  return root;
}

std::vector<MerkleNode> MerkleFrontier::Peaks() const {
  std::vector<MerkleNode> nodes;
  std::uint64_t begin = 0;
  for (auto level = static_cast<std::uint32_t>(std::bit_width(size_)); level-- > 0;) {
    if (!HasBit(size_, level)) continue;
    nodes.push_back(
        {.place = {.level = level, .index = begin >> level}, .hash = peaks_[nodes.size()]});
    begin += std::uint64_t{1} << level;
  }
  return nodes;
}

absl::Status MerkleFrontier::Append(const Hash& leaf_hash, std::vector<MerkleNode>* completed) {
  if (size_ >= kMerkleLeavesMax) return TreeFull();
  MerkleNode node{.place = {.level = 0, .index = size_}, .hash = leaf_hash};
  if (completed != nullptr) completed->push_back(node);
  // As in adding one to a binary number: each trailing one is a subtree as large as the new one.
  while (HasBit(size_, node.place.level)) {
    node.hash = MerkleNodeHash(peaks_.back(), node.hash);
    peaks_.pop_back();
    ++node.place.level;
    node.place.index >>= 1;
    if (completed != nullptr) completed->push_back(node);
  }
  peaks_.push_back(node.hash);
  ++size_;
  return absl::OkStatus();
}

std::string MerkleFrontier::Encode() const {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Unsigned(size_);
  for (const Hash& peak : peaks_) writer.Raw(ViewOf(peak));
  return bytes;
}

absl::StatusOr<MerkleFrontier> MerkleFrontier::Decode(std::string_view bytes) {
  ByteReader reader(bytes);
  MerkleFrontier frontier;
  frontier.size_ = reader.Unsigned();
  if (!reader.ok() || frontier.size_ > kMerkleLeavesMax) return Damaged();
  for (int left = std::popcount(frontier.size_); left > 0; --left) {
    const auto peak = HashOfBytes(reader.Raw(std::tuple_size_v<Hash>));
    if (!peak) return Damaged();
    frontier.peaks_.push_back(*peak);
  }
  if (!reader.at_end()) return Damaged();
  return frontier;
}

}  // namespace broodpact
