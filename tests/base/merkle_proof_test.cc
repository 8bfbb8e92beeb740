// Goal: a proof is accepted exactly where it proves what it says, and hostile ones cost nothing.
// Method: published proofs, the naive twin over all trees of up to 300 leaves, and every way to
// falsify a proof.

#include "client/base/merkle_proof.h"

#include <limits>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/base/naive_merkle.h"
#include "tests/base/published.h"

namespace broodpact {
namespace {

constexpr std::size_t kLeaves = 300;

const std::vector<Hash>& AllLeaves() {
  static const std::vector<Hash> leaves = ManyLeaves(kLeaves);
  return leaves;
}

Leaves FirstLeaves(std::size_t size) {
  return Leaves(AllLeaves()).first(size);
}

const MemoryTree& Tree() {
  static const MemoryTree tree(AllLeaves());
  return tree;
}

std::vector<Hash> HashesAt(const nlohmann::json& each, const char* key) {
  std::vector<Hash> hashes;
  for (const nlohmann::json& text : each.at(key)) {
    hashes.push_back(HashOfBytes(HexToBytes(text.get<std::string>()).value()).value());
  }
  return hashes;
}

// Source: the eight-leaf tree of the Certificate Transparency reference tests; see the file.
TEST(Proof, IsThePublishedOne) {
  const std::string file = "sync/merkle_rfc6962.json";
  std::vector<Hash> leaves;
  const auto cases = PublishedCases(file);
  for (const nlohmann::json& text : cases.front().at("leaves_hex")) {
    leaves.push_back(MerkleLeafHash(HexToBytes(text.get<std::string>()).value()));
  }
  const MemoryTree tree(leaves);
  const std::vector<Hash> roots = HashesAt(cases.front(), "roots");
  for (const auto& each : cases) {
    if (!each.contains("kind")) continue;
    const std::vector<Hash> proof = HashesAt(each, "path");
    if (each.at("kind") == "inclusion") {
      const auto size = each.at("n").get<std::size_t>();
      const auto index = each.at("index").get<std::size_t>();
      EXPECT_EQ(InclusionProof(tree, index, size).value(), proof) << each;
      EXPECT_TRUE(
          VerifyInclusion(leaves[index], index, proof, {.size = size, .root = roots[size]}).ok());
    } else {
      const auto first = each.at("from_n").get<std::size_t>();
      const auto second = each.at("to_n").get<std::size_t>();
      EXPECT_EQ(ConsistencyProof(tree, first, second).value(), proof) << each;
      EXPECT_TRUE(VerifyConsistency({.size = first, .root = roots[first]},
                                    {.size = second, .root = roots[second]}, proof)
                      .ok());
    }
  }
}

// Source: RFC 9162, section 2.1.5, where the nodes of a tree of seven leaves have letters.
TEST(Proof, IsThatOfTheWorkedExample) {
  const std::string file = "sync/merkle_rfc9162_example.json";
  std::map<std::string, Hash> nodes;
  for (const auto& each : PublishedCases(file, "node")) {
    const auto begin = each.at("begin").get<std::size_t>();
    const auto end = each.at("end").get<std::size_t>();
    nodes[TextAt(each, "name")] = NaiveRoot(Leaves(AllLeaves()).subspan(begin, end - begin));
  }
  const auto path_of = [&nodes](const nlohmann::json& each) {
    std::vector<Hash> path;
    for (const auto& name : each.at("path")) path.push_back(nodes.at(name.get<std::string>()));
    return path;
  };
  const MerkleHead head{.size = 7, .root = MerkleNodeHash(nodes.at("k"), nodes.at("l"))};
  EXPECT_EQ(Tree().HeadOf(7), head);
  for (const auto& each : PublishedCases(file, "inclusion")) {
    const auto index = each.at("index").get<std::size_t>();
    EXPECT_EQ(InclusionProof(Tree(), index, 7).value(), path_of(each)) << each;
    EXPECT_TRUE(VerifyInclusion(AllLeaves()[index], index, path_of(each), head).ok()) << each;
  }
  for (const auto& each : PublishedCases(file, "consistency")) {
    const auto first = each.at("from_n").get<std::size_t>();
    EXPECT_EQ(ConsistencyProof(Tree(), first, 7).value(), path_of(each)) << each;
    EXPECT_TRUE(VerifyConsistency(Tree().HeadOf(first), head, path_of(each)).ok()) << each;
  }
}

TEST(Proof, OfEveryLeafInEveryTreeVerifies) {
  for (std::size_t size = 1; size <= kLeaves; ++size) {
    const MerkleHead head = Tree().HeadOf(size);
    for (std::size_t index = 0; index < size; ++index) {
      Tree().TakeReads();
      const auto proof = InclusionProof(Tree(), index, size);
      ASSERT_TRUE(proof.ok()) << proof.status();
      ASSERT_LE(Tree().TakeReads(), 18U);
      ASSERT_TRUE(VerifyInclusion(AllLeaves()[index], index, *proof, head).ok())
          << index << " of " << size;
    }
  }
}

TEST(Proof, OfEveryTreeInEveryLaterOneVerifies) {
  for (std::size_t second = 0; second <= kLeaves; ++second) {
    for (std::size_t first = 0; first <= second; ++first) {
      Tree().TakeReads();
      const auto proof = ConsistencyProof(Tree(), first, second);
      ASSERT_TRUE(proof.ok()) << proof.status();
      ASSERT_LE(Tree().TakeReads(), 18U);
      ASSERT_TRUE(VerifyConsistency(Tree().HeadOf(first), Tree().HeadOf(second), *proof).ok())
          << first << " of " << second;
    }
  }
}

// Two sizes of the tree, the first one smaller.
std::pair<std::size_t, std::size_t> AnyPair() {
  const auto second = *rc::gen::inRange<std::size_t>(2, kLeaves + 1);
  return {*rc::gen::inRange<std::size_t>(1, second), second};
}

RC_GTEST_PROP(Proof, IsThatOfTheDefinition, ()) {
  const auto [first, second] = AnyPair();
  RC_ASSERT(InclusionProof(Tree(), first - 1, second).value() ==
            NaivePath(first - 1, FirstLeaves(second)).hashes);
  RC_ASSERT(ConsistencyProof(Tree(), first, second).value() ==
            NaiveConsistency(first, FirstLeaves(second)).hashes);
}

void FlipABit(Hash& hash) {
  const auto bit = *rc::gen::inRange<std::size_t>(0, hash.size() * 8);
  hash[bit / 8] ^= static_cast<std::uint8_t>(1U << (bit % 8));
}

// One that is cut short or too long, at either end.
std::vector<Hash> OfAnotherLength(std::vector<Hash> proof) {
  const auto at = *rc::gen::arbitrary<bool>() ? proof.begin() : proof.end();
  if (proof.empty() || *rc::gen::arbitrary<bool>()) {
    const auto more = *rc::gen::inRange<std::size_t>(1, 60);
    proof.insert(at, more, *rc::gen::arbitrary<bool>() ? Tree().HeadOf(1).root : Hash{});
  } else {
    const auto less = *rc::gen::inRange<std::ptrdiff_t>(1, std::ssize(proof) + 1);
    proof.erase(at == proof.end() ? at - less : at, at == proof.end() ? at : at + less);
  }
  return proof;
}

RC_GTEST_PROP(InclusionProof, FailsWithAnyFlippedBit, ()) {
  const auto [number, size] = AnyPair();
  std::vector<Hash> proof = InclusionProof(Tree(), number - 1, size).value();
  Hash leaf = AllLeaves()[number - 1];
  MerkleHead head = Tree().HeadOf(size);
  const auto where = *rc::gen::inRange<std::size_t>(0, proof.size() + 2);
  FlipABit(where < proof.size() ? proof[where] : (where == proof.size() ? leaf : head.root));
  RC_ASSERT(ReasonOf(VerifyInclusion(leaf, number - 1, proof, head)) == "PROOF_WRONG");
}

RC_GTEST_PROP(InclusionProof, FailsWithAnotherLength, ()) {
  const auto [number, size] = AnyPair();
  const auto proof = OfAnotherLength(InclusionProof(Tree(), number - 1, size).value());
  RC_ASSERT(ReasonOf(VerifyInclusion(AllLeaves()[number - 1], number - 1, proof,
                                     Tree().HeadOf(size))) == "PROOF_LENGTH");
}

RC_GTEST_PROP(InclusionProof, FailsForAnotherLeaf, ()) {
  const auto [number, size] = AnyPair();
  const auto other = *rc::gen::distinctFrom(rc::gen::inRange<std::size_t>(0, size), number - 1);
  const auto proof = InclusionProof(Tree(), number - 1, size).value();
  const Hash& leaf = AllLeaves()[number - 1];
  RC_ASSERT(!VerifyInclusion(leaf, other, proof, Tree().HeadOf(size)).ok());
  RC_ASSERT(!VerifyInclusion(AllLeaves()[other], number - 1, proof, Tree().HeadOf(size)).ok());
}

// A root does not say its size: where another size gives the path the same shape, it is the same
// proof. Everywhere else it fails.
RC_GTEST_PROP(InclusionProof, FailsForAnotherSizeUnlessThePathHasTheSameShape, ()) {
  const auto [number, size] = AnyPair();
  const auto other = *rc::gen::distinctFrom(rc::gen::inRange<std::size_t>(0, kLeaves + 1), size);
  const NaiveProof proof = NaivePath(number - 1, FirstLeaves(size));
  const bool is_alike =
      number <= other && NaivePath(number - 1, FirstLeaves(other)).shape == proof.shape;
  const MerkleHead head{.size = other, .root = Tree().HeadOf(size).root};
  RC_ASSERT(VerifyInclusion(AllLeaves()[number - 1], number - 1, proof.hashes, head).ok() ==
            is_alike);
}

RC_GTEST_PROP(ConsistencyProof, FailsWithAnyFlippedBit, ()) {
  const auto [first, second] = AnyPair();
  std::vector<Hash> proof = ConsistencyProof(Tree(), first, second).value();
  MerkleHead before = Tree().HeadOf(first);
  MerkleHead after = Tree().HeadOf(second);
  const auto where = *rc::gen::inRange<std::size_t>(0, proof.size() + 2);
  FlipABit(where < proof.size() ? proof[where]
                                : (where == proof.size() ? before.root : after.root));
  RC_ASSERT(ReasonOf(VerifyConsistency(before, after, proof)) == "PROOF_WRONG");
}

RC_GTEST_PROP(ConsistencyProof, FailsWithAnotherLength, ()) {
  const auto [first, second] = AnyPair();
  const auto proof = OfAnotherLength(ConsistencyProof(Tree(), first, second).value());
  RC_ASSERT(ReasonOf(VerifyConsistency(Tree().HeadOf(first), Tree().HeadOf(second), proof)) ==
            "PROOF_LENGTH");
}

// As for inclusion: two sizes that give the proof the same shape cannot be told apart by it.
RC_GTEST_PROP(ConsistencyProof, FailsForOtherSizesUnlessItHasTheSameShape, ()) {
  const auto [first, second] = AnyPair();
  const auto [other_first, other_second] = AnyPair();
  const NaiveProof proof = NaiveConsistency(first, FirstLeaves(second));
  const NaiveProof other = NaiveConsistency(other_first, FirstLeaves(other_second));
  const absl::Status status =
      VerifyConsistency({.size = other_first, .root = Tree().HeadOf(first).root},
                        {.size = other_second, .root = Tree().HeadOf(second).root}, proof.hashes);
  RC_ASSERT(status.ok() == (proof.shape == other.shape));
}

// What a server does that rewrites, drops or swaps what it has acknowledged.
RC_GTEST_PROP(ConsistencyProof, FailsForATreeThatWasRewritten, ()) {
  const auto [first, second] = AnyPair();
  std::vector<Hash> leaves(AllLeaves().begin(), AllLeaves().begin() + std::ptrdiff_t(second));
  const auto at = *rc::gen::inRange<std::size_t>(0, first);
  switch (*rc::gen::inRange(0, 3)) {
    case 0:
      FlipABit(leaves[at]);
      break;
    case 1:
      leaves.erase(leaves.begin() + std::ptrdiff_t(at));
      break;
    default:
      std::swap(leaves[at], leaves[at + 1 < second ? at + 1 : at - 1]);
  }
  RC_PRE(leaves.size() >= first &&
         NaiveRoot(Leaves(leaves).first(first)) != Tree().HeadOf(first).root);
  const MemoryTree rewritten(leaves);
  const auto proof = ConsistencyProof(rewritten, first, leaves.size()).value();
  RC_ASSERT(ReasonOf(VerifyConsistency(Tree().HeadOf(first), rewritten.HeadOf(leaves.size()),
                                       proof)) == "PROOF_WRONG");
}

TEST(Proof, HasItsErrorsInOrder) {
  const auto max = std::numeric_limits<std::uint64_t>::max();
  const std::vector<Hash> endless(kMerkleProofHashesMax + 1);
  const auto inclusion = [&](std::uint64_t index, std::uint64_t size) {
    const std::string verified = ReasonOf(VerifyInclusion({}, index, endless, {.size = size}));
    const std::string proved = ReasonOf(InclusionProof(Tree(), index, size).status());
    return verified + " " + proved;
  };
  EXPECT_EQ(inclusion(0, 0), "TREE_SIZE TREE_SIZE");
  EXPECT_EQ(inclusion(max, max), "TREE_SIZE TREE_SIZE");
  EXPECT_EQ(inclusion(max, kMerkleLeavesMax + 1), "TREE_SIZE TREE_SIZE");
  EXPECT_EQ(inclusion(max, kMerkleLeavesMax), "LEAF_INDEX LEAF_INDEX");
  EXPECT_EQ(inclusion(7, 7), "LEAF_INDEX LEAF_INDEX");
  EXPECT_EQ(inclusion(6, 7), "PROOF_LENGTH ");
  EXPECT_EQ(inclusion(kMerkleLeavesMax - 1, kMerkleLeavesMax), "PROOF_LENGTH NO_SUCH_NODE");

  const auto consistency = [&](std::uint64_t first, std::uint64_t second) {
    const std::string verified =
        ReasonOf(VerifyConsistency({.size = first}, {.size = second}, endless));
    const std::string proved = ReasonOf(ConsistencyProof(Tree(), first, second).status());
    return verified + " " + proved;
  };
  EXPECT_EQ(consistency(max, max), "TREE_SIZE TREE_SIZE");
  EXPECT_EQ(consistency(1, kMerkleLeavesMax + 1), "TREE_SIZE TREE_SIZE");
  EXPECT_EQ(consistency(8, 7), "TREE_SIZE TREE_SIZE");
  EXPECT_EQ(consistency(7, 7), "PROOF_LENGTH ");
  EXPECT_EQ(consistency(0, 7), "PROOF_LENGTH ");
  EXPECT_EQ(consistency(3, kMerkleLeavesMax), "PROOF_LENGTH NO_SUCH_NODE");
}

TEST(ConsistencyProof, IsEmptyForTheSameTreeAndFromTheEmptyOne) {
  const MerkleHead head = Tree().HeadOf(7);
  EXPECT_TRUE(VerifyConsistency(head, head, {}).ok());
  EXPECT_TRUE(VerifyConsistency(Tree().HeadOf(0), head, {}).ok());
  EXPECT_TRUE(VerifyConsistency(Tree().HeadOf(0), Tree().HeadOf(0), {}).ok());
  const MerkleHead other{.size = 7, .root = Tree().HeadOf(8).root};
  EXPECT_EQ(ReasonOf(VerifyConsistency(head, other, {})), "PROOF_WRONG");
  EXPECT_EQ(ReasonOf(VerifyConsistency({.size = 0}, head, {})), "PROOF_WRONG");
  EXPECT_EQ(ReasonOf(VerifyConsistency(Tree().HeadOf(6), head, {})), "PROOF_LENGTH");
}

// The largest tree has the longest proofs, and they fit the bound.
TEST(Proof, OfTheLargestTreeIsBounded) {
  class Everywhere final : public MerkleNodes {
   public:
    absl::StatusOr<Hash> HashAt(const MerklePlace&) const override { return Hash{}; }
  };
  const std::uint64_t last = kMerkleLeavesMax - 1;
  EXPECT_EQ(InclusionProof(Everywhere(), last, kMerkleLeavesMax).value().size(), 48U);
  EXPECT_EQ(ConsistencyProof(Everywhere(), last, kMerkleLeavesMax).value().size(),
            kMerkleProofHashesMax);
}

}  // namespace
}  // namespace broodpact
