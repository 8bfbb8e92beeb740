// Goal: the tree that is kept of the log is that of RFC 9162 over all of it, and the log hash is
// found at any place. Method: made-up logs in batches of any size, beside the recursive definition
// over all leaves at once.

#include <vector>

#include "gtest/gtest.h"
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/store/internal/database.h"
#include "client/store/internal/keys.h"
#include "tests/base/naive_merkle.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

std::vector<Hash> LeavesOf(const TrialLog& log) {
  std::vector<Hash> leaves;
  for (const TrialArrival& arrival : log.arrivals()) {
    leaves.push_back(
        facts::LogLeafHash(Sha256(arrival.stored.bytes), facts::TimesOf(arrival.stored)));
  }
  return leaves;
}

Hash NaiveRootAt(const std::vector<Hash>& leaves, std::uint64_t size) {
  return NaiveRoot(Leaves(leaves).first(size));
}

// Places around those whose subtrees and hashes are kept.
std::vector<std::uint64_t> PlacesIn(std::uint64_t all) {
  std::vector<std::uint64_t> places;
  for (const std::uint64_t place :
       {0U, 1U, 2U, 3U, 64U, 255U, 256U, 257U, 511U, 512U, 700U, 768U, 1'023U, 1'024U, 1'025U}) {
    if (place < all) places.push_back(place);
  }
  places.push_back(all);
  return places;
}

TEST(LogTree, HasTheRootOfTheWholeLogHoweverItWasAppended) {
  const TempFolder folder;
  auto store = OpenForWriting(folder.path());
  TrialLog log({.seed = 31});
  EXPECT_EQ(*store->TreeRootAt(0), MerkleEmptyRoot());
  for (const std::size_t count : {1U, 1U, 60U, 300U, 1U, 500U, 300U}) {
    ASSERT_TRUE(log.AppendTo(*store, count).ok());
    const std::vector<Hash> leaves = LeavesOf(log);
    EXPECT_EQ(*store->TreeRootAt(leaves.size()), NaiveRoot(leaves));
  }
  const std::vector<Hash> leaves = LeavesOf(log);
  store.reset();
  store = OpenForWriting(folder.path());  // the frontier comes from the disk
  for (const std::uint64_t place : PlacesIn(leaves.size())) {
    EXPECT_EQ(*store->TreeRootAt(place), NaiveRootAt(leaves, place)) << place;
  }
  EXPECT_EQ(ReasonOf(store->TreeRootAt(leaves.size() + 1).status()), "LOG_SHORT");
  ASSERT_TRUE(log.AppendTo(*store, 10).ok());
  EXPECT_EQ(*store->TreeRootAt(log.point().arrivals), NaiveRoot(LeavesOf(log)));
}

TEST(LogTree, ProvesGrowthAndArrivalsBetweenAnyTwoPlaces) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  TrialLog log({.seed = 32});
  ASSERT_TRUE(log.AppendTo(*store, 1'030).ok());
  const std::vector<Hash> leaves = LeavesOf(log);
  const std::vector<std::uint64_t> places = PlacesIn(leaves.size());
  for (const std::uint64_t second : places) {
    const MerkleHead head{.size = second, .root = NaiveRootAt(leaves, second)};
    for (const std::uint64_t first : places) {
      if (first > second) continue;
      const auto proof = ConsistencyProof(*store->TreeNodes(), first, second);
      ASSERT_TRUE(proof.ok()) << proof.status();
      EXPECT_TRUE(
          VerifyConsistency({.size = first, .root = NaiveRootAt(leaves, first)}, head, *proof).ok())
          << first << " " << second;
      if (first == second) continue;
      const auto path = InclusionProof(*store->TreeNodes(), first, second);
      ASSERT_TRUE(path.ok()) << path.status();
      EXPECT_TRUE(VerifyInclusion(leaves[first], first, *path, head).ok());
    }
  }
}

TEST(LogTree, KnowsTheLogHashAtAnyPlace) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  TrialLog log({.seed = 33});
  ASSERT_TRUE(log.AppendTo(*store, 700).ok());
  std::vector<Hash> hashes = {Hash{}};
  for (const TrialArrival& arrival : log.arrivals()) {
    hashes.push_back(facts::NextLogHash(hashes.back(), Sha256(arrival.stored.bytes),
                                        facts::TimesOf(arrival.stored)));
  }
  for (const std::uint64_t place : PlacesIn(log.point().arrivals)) {
    EXPECT_EQ(*store->LogHashAt(place), hashes[place]) << place;
  }
  EXPECT_EQ(ReasonOf(store->LogHashAt(log.point().arrivals + 1).status()), "LOG_SHORT");
}

TEST(LogTree, IsComputedAgainFromTheLogWhereItIsMissing) {
  const TempFolder folder;
  TrialLog log({.seed = 34});
  ASSERT_TRUE(log.AppendTo(*OpenForWriting(folder.path()), 900).ok());
  {
    const auto database = Database::Open(folder.path(), Access::kReadWrite);
    ASSERT_TRUE(database.ok()) << database.status();
    rocksdb::DB& db = (*database)->db();
    ASSERT_TRUE(db.Delete({}, (*database)->part(Part::kMeta), SliceOf(kTreeName)).ok());
    for (const std::uint64_t index : {0U, 1U, 2U}) {
      ASSERT_TRUE(db.Delete({}, (*database)->part(Part::kChains),
                            SliceOf(TreeKey({.level = 8, .index = index}).view()))
                      .ok());
    }
  }
  EXPECT_EQ(ReasonOf((*Store::Open(folder.path(), Access::kReadOnly))->TreeRootAt(300).status()),
            "TREE_MISSING");
  const auto store = OpenForWriting(folder.path());
  const std::vector<Hash> leaves = LeavesOf(log);
  for (const std::uint64_t place : PlacesIn(leaves.size())) {
    EXPECT_EQ(*store->TreeRootAt(place), NaiveRootAt(leaves, place)) << place;
  }
}

TEST(LogTree, IsReadBesideTheWriter) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  TrialLog log({.seed = 35});
  ASSERT_TRUE(log.AppendTo(*store, 400).ok());
  const auto reader = Store::Open(folder.path(), Access::kReadOnly);
  ASSERT_TRUE(reader.ok()) << reader.status();
  const std::vector<Hash> leaves = LeavesOf(log);
  EXPECT_EQ(*(*reader)->TreeRootAt(leaves.size()), NaiveRoot(leaves));
}

}  // namespace
}  // namespace broodpact::store
