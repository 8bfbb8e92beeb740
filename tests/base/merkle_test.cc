// Goal: a tree that grows leaf by leaf has the root of the definition at every size, and goes on
// from what was kept of it. Method: published roots, the naive twin, and damaged bytes.

#include "client/base/merkle.h"

#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/base/naive_merkle.h"
#include "tests/base/published.h"

namespace broodpact {
namespace {

MerkleFrontier FrontierOf(Leaves leaves) {
  MerkleFrontier frontier;
  for (const Hash& leaf : leaves) BP_CHECK(frontier.Append(leaf).ok());
  return frontier;
}

// Source: the eight-leaf tree of the Certificate Transparency reference tests; see the file.
TEST(Merkle, HasThePublishedRoots) {
  const nlohmann::json tree = PublishedCases("sync/merkle_rfc6962.json").front();
  MerkleFrontier frontier;
  EXPECT_EQ(ToHex(frontier.Root()), tree.at("roots").at(0).get<std::string>());
  for (std::size_t i = 0; i < tree.at("leaves_hex").size(); ++i) {
    const std::string leaf = HexToBytes(tree.at("leaves_hex").at(i).get<std::string>()).value();
    ASSERT_TRUE(frontier.Append(MerkleLeafHash(leaf)).ok());
    EXPECT_EQ(frontier.size(), i + 1);
    EXPECT_EQ(ToHex(frontier.Root()), tree.at("roots").at(i + 1).get<std::string>());
  }
}

TEST(Merkle, HasTheRootOfTheDefinitionAtEverySize) {
  const std::vector<Hash> leaves = ManyLeaves(300);
  MerkleFrontier frontier;
  for (std::size_t size = 0; size <= leaves.size(); ++size) {
    ASSERT_EQ(frontier.Root(), NaiveRoot(Leaves(leaves).first(size))) << size;
    if (size < leaves.size()) {
      ASSERT_TRUE(frontier.Append(leaves[size]).ok());
    }
  }
}

// A node of two leaves is not the leaf that its bytes would be.
TEST(Merkle, TellsALeafFromANode) {
  const Hash left = MerkleLeafHash("left");
  const Hash right = MerkleLeafHash("right");
  const std::string both = std::string(ViewOf(left)).append(ViewOf(right));
  EXPECT_NE(MerkleNodeHash(left, right), MerkleLeafHash(both));
  EXPECT_NE(MerkleNodeHash(left, right), MerkleNodeHash(right, left));
}

TEST(Merkle, NamesEachCompletedSubtreeOnceWithItsHash) {
  const std::vector<Hash> leaves = ManyLeaves(300);
  const MemoryTree tree(leaves);  // refuses a place named twice
  std::size_t nodes = 0;
  for (std::uint32_t level = 0; level < 9; ++level) {
    const std::size_t width = std::size_t{1} << level;
    for (std::size_t index = 0; (index + 1) * width <= leaves.size(); ++index) {
      ++nodes;
      ASSERT_EQ(tree.HashAt({.level = level, .index = index}).value(),
                NaiveRoot(Leaves(leaves).subspan(index * width, width)));
    }
  }
  EXPECT_EQ(tree.nodes(), nodes);
}

TEST(Merkle, IsReadBackAtAnySizeFromItsNodes) {
  const std::vector<Hash> leaves = ManyLeaves(300);
  const MemoryTree tree(leaves);
  for (std::size_t size = 0; size <= leaves.size(); ++size) {
    tree.TakeReads();
    const auto frontier = MerkleFrontier::Read(tree, size);
    ASSERT_TRUE(frontier.ok()) << frontier.status();
    ASSERT_EQ(*frontier, FrontierOf(Leaves(leaves).first(size)));
    ASSERT_LE(tree.TakeReads(), 9U);
  }
  EXPECT_EQ(ReasonOf(MerkleFrontier::Read(tree, 301).status()), "NO_SUCH_NODE");
  EXPECT_EQ(ReasonOf(MerkleFrontier::Read(tree, kMerkleLeavesMax + 1).status()), "TREE_FULL");
}

RC_GTEST_PROP(Merkle, GoesOnFromItsBytes, ()) {
  const std::vector<Hash> leaves = ManyLeaves(*rc::gen::inRange<std::size_t>(0, 301));
  const auto before = *rc::gen::inRange<std::size_t>(0, leaves.size() + 1);
  const std::string bytes = FrontierOf(Leaves(leaves).first(before)).Encode();
  auto frontier = MerkleFrontier::Decode(bytes);
  RC_ASSERT(frontier.ok());
  RC_ASSERT(frontier->Encode() == bytes);
  for (const Hash& leaf : Leaves(leaves).subspan(before)) RC_ASSERT(frontier->Append(leaf).ok());
  RC_ASSERT(*frontier == FrontierOf(leaves));
}

TEST(Merkle, RefusesBytesThatItDoesNotWrite) {
  const std::string bytes = FrontierOf(ManyLeaves(13)).Encode();
  ASSERT_TRUE(MerkleFrontier::Decode(bytes).ok());
  std::vector<std::string> hostile = {"", bytes + '\0', "\x80", std::string("\x8d\x00", 2),
                                      std::string(11, '\xff')};
  for (std::size_t size = 1; size < bytes.size(); ++size) hostile.push_back(bytes.substr(0, size));
  for (const std::string& each : hostile) {
    const absl::Status status = MerkleFrontier::Decode(each).status();
    EXPECT_EQ(ReasonOf(status), "TREE_DAMAGED") << BytesToHex(each);
    EXPECT_EQ(status.code(), absl::StatusCode::kDataLoss);
  }
}

RC_GTEST_PROP(Merkle, SurvivesAnyBytes, (const std::string& bytes)) {
  const auto frontier = MerkleFrontier::Decode(bytes);
  if (frontier.ok()) {
    RC_ASSERT(frontier->Encode() == bytes);
  }
}

// The sizes at the very end: one leaf more fits, and then none.
TEST(Merkle, IsFullAtItsBound) {
  const Hash peak = Sha256("a peak");
  std::string bytes("\xff\xff\xff\xff\xff\xff\x3f", 7);  // 2^48 - 1, as a varint
  for (int i = 0; i < 48; ++i) bytes.append(ViewOf(peak));
  auto frontier = MerkleFrontier::Decode(bytes);
  ASSERT_TRUE(frontier.ok());
  std::vector<MerkleNode> completed;
  ASSERT_TRUE(frontier->Append(peak, &completed).ok());
  EXPECT_EQ(completed.size(), 49U);
  EXPECT_EQ(completed.back().place, (MerklePlace{.level = 48, .index = 0}));
  EXPECT_EQ(frontier->size(), kMerkleLeavesMax);
  EXPECT_EQ(MerkleFrontier::Decode(frontier->Encode()).value(), *frontier);
  const MerkleFrontier full = *frontier;
  EXPECT_EQ(ReasonOf(frontier->Append(peak, &completed)), "TREE_FULL");
  EXPECT_EQ(*frontier, full);
  EXPECT_EQ(completed.size(), 49U);
}

}  // namespace
}  // namespace broodpact
