// Goal: a batch is one: all of it is there, or none; and each thing that a batch can carry does
// what it says. Method: batches beside what a map would hold; refused batches leave everything as
// it was.

#include <map>

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "client/base/status.h"
#include "client/store/store.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

facts::ChainId ChainNumber(std::uint8_t number) {
  facts::ChainId chain;
  chain.device.bytes[0] = number;
  return chain;
}

PendingCommit PendingNumber(const facts::ChainId& chain, std::uint64_t seq) {
  PendingCommit pending{.chain = chain, .seq = seq, .commit = {}};
  pending.commit.bytes = "commit " + std::to_string(seq);
  pending.commit.signature.fill(static_cast<std::uint8_t>(seq));
  return pending;
}

std::vector<std::uint64_t> SeqsOf(const std::vector<PendingCommit>& commits) {
  std::vector<std::uint64_t> seqs;
  for (const PendingCommit& pending : commits) seqs.push_back(pending.seq);
  return seqs;
}

TEST(Append, RefusesARangeThatDoesNotBeginAtTheEnd) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  TrialLog log({.seed = 21});
  ASSERT_TRUE(log.AppendTo(*store, 10).ok());
  const facts::LogPoint then = store->point();
  TrialLog other({.seed = 22});
  const absl::Status status = other.AppendTo(*store, 5);
  EXPECT_EQ(status.code(), absl::StatusCode::kAborted);
  EXPECT_EQ(ReasonOf(status), "LOG_MOVED");
  EXPECT_EQ(store->point(), then);
  EXPECT_TRUE(log.AppendTo(*store, 5).ok());
}

TEST(Append, SetsSmallValuesWithTheBatch) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  const facts::Range none;
  Batch batch{.range = none};
  batch.meta = {{"epoch", "1"}, {"head", "signed"}};
  ASSERT_TRUE(store->Append(batch).ok());
  EXPECT_EQ(*store->Meta("epoch"), "1");
  EXPECT_EQ(*store->Meta("head"), "signed");
}

// A range that brings pending commits, in order.
facts::Range RangeOf(const facts::LogPoint& before, const std::vector<PendingCommit>& commits) {
  facts::Range range{.before = before, .after = before};
  for (const PendingCommit& pending : commits) {
    facts::Arrived arrived{.arrival = ++range.after.arrivals};
    arrived.commit.hash = Sha256(pending.commit.bytes);
    arrived.commit.header.device = pending.chain.device;
    arrived.commit.header.incarnation = pending.chain.incarnation;
    arrived.commit.header.seq = pending.seq;
    range.log_hashes.push_back(arrived.commit.hash);
    range.arrivals.push_back(std::move(arrived));
    range.bytes.push_back(pending.commit.bytes);
    range.signatures.emplace_back(pending.commit.signature);
  }
  return range;
}

// Appends a range that brings `commits`, as one that delivers them.
void Deliver(Store& store, const std::vector<PendingCommit>& commits) {
  const facts::Range range = RangeOf(store.point(), commits);
  Batch batch{.range = range};
  batch.verdicts.resize(commits.size());
  batch.heads[commits.back().chain] = {commits.back().seq, Sha256(commits.back().commit.bytes)};
  batch.delivered = {commits.back().chain, ChainNumber(3)};
  ASSERT_TRUE(store.Append(batch).ok());
}

TEST(Append, TakesDeliveredCommitsOutOfThePendingOnes) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  const facts::ChainId own = ChainNumber(1);
  std::vector<PendingCommit> commits;
  for (std::uint64_t seq = 1; seq <= 300; ++seq) commits.push_back(PendingNumber(own, seq));
  commits.push_back(PendingNumber(ChainNumber(2), 1));
  ASSERT_TRUE(store->AppendPending(commits).ok());

  std::ptrdiff_t delivered = 0;
  for (const std::ptrdiff_t head : {1, 2, 200, 298}) {
    Deliver(*store, {commits.begin() + delivered, commits.begin() + head});
    delivered = head;
    EXPECT_EQ(store->Pending()->front().seq, static_cast<std::uint64_t>(head) + 1);
  }
  EXPECT_THAT(SeqsOf(*store->Pending()), testing::ElementsAre(299, 300, 1));
}

TEST(Append, DeliversPlacesThatAreWrittenOnceMore) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  const facts::ChainId own = ChainNumber(1);
  Deliver(*store, {PendingNumber(own, 1), PendingNumber(own, 2), PendingNumber(own, 3)});
  ASSERT_TRUE(store->AppendPending({PendingNumber(own, 2), PendingNumber(own, 4)}).ok());
  Deliver(*store, {PendingNumber(own, 2)});
  EXPECT_THAT(SeqsOf(*store->Pending()), testing::ElementsAre(4));
}

TEST(Append, KeepsPendingCommitsWhosePlacesOthersTook) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  const facts::ChainId own = ChainNumber(1);
  std::vector<PendingCommit> mine = {PendingNumber(own, 1), PendingNumber(own, 2),
                                     PendingNumber(own, 3)};
  ASSERT_TRUE(store->AppendPending(mine).ok());
  std::vector<PendingCommit> arrived = mine;
  arrived[1].commit.bytes = "of another copy of the device";
  arrived[2].commit.bytes = "and the one after";
  Deliver(*store, arrived);
  EXPECT_THAT(SeqsOf(*store->Pending()), testing::ElementsAre(2, 3));
}

TEST(Pending, IsReplacedAllOrNothing) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  facts::ChainId later = ChainNumber(1);
  later.incarnation = 2;
  const std::vector<PendingCommit> before = {PendingNumber(ChainNumber(1), 1),
                                             PendingNumber(ChainNumber(1), 2)};
  ASSERT_TRUE(store->AppendPending(before).ok());
  ASSERT_TRUE(store->ReplacePending(before, {PendingNumber(later, 1)}).ok());
  ASSERT_EQ(store->Pending()->size(), 1U);
  EXPECT_EQ(store->Pending()->front().chain, later);
}

TEST(Chains, AreListedByDeviceInOrder) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  facts::ChainId later = ChainNumber(2);
  later.incarnation = 300;
  for (const facts::ChainId& chain : {later, ChainNumber(2), ChainNumber(1)}) {
    Deliver(*store, {PendingNumber(chain, 1)});
  }
  EXPECT_THAT(*store->Chains(), testing::ElementsAre(ChainNumber(1), ChainNumber(2), later));
  EXPECT_THAT(*store->ChainsOf(ChainNumber(2).device), testing::ElementsAre(ChainNumber(2), later));
  EXPECT_TRUE(store->ChainsOf(ChainNumber(9).device)->empty());
}

TEST(Pending, ComesBackAsItWasInOrderOfIncarnationAndSeq) {
  const TempFolder folder;
  facts::ChainId later = ChainNumber(1);
  later.incarnation = 2;
  const std::vector<PendingCommit> commits = {
      PendingNumber(ChainNumber(1), 255), PendingNumber(ChainNumber(1), 256),
      PendingNumber(ChainNumber(1), 70'000), PendingNumber(later, 1)};
  {
    const auto store = OpenForWriting(folder.path());
    ASSERT_TRUE(store->AppendPending({commits[3], commits[2]}).ok());
    ASSERT_TRUE(store->AppendPending({commits[1], commits[0]}).ok());
  }
  const auto read = OpenForWriting(folder.path())->Pending();
  ASSERT_TRUE(read.ok()) << read.status();
  ASSERT_EQ(read->size(), commits.size());
  for (std::size_t i = 0; i < commits.size(); ++i) {
    EXPECT_EQ((*read)[i].chain, commits[i].chain);
    EXPECT_EQ((*read)[i].seq, commits[i].seq);
    EXPECT_EQ((*read)[i].commit.bytes, commits[i].commit.bytes);
    EXPECT_EQ((*read)[i].commit.signature, commits[i].commit.signature);
  }
}

// A state of `count` subjects, one index entry each.
std::vector<registry::Change> ChangesOf(std::uint8_t count) {
  std::vector<registry::Change> changes;
  for (std::uint8_t i = 0; i < count; ++i) {
    const registry::SubjectKey key{.kind = registry::Kind::kGroup, .id = {i}};
    changes.push_back({.key = key,
                       .value = "group " + std::to_string(i),
                       .index_removed = {},
                       .index_added = {"n" + registry::KeyText(key)}});
  }
  return changes;
}

TEST(Rebuild, FoldsTheLogAgainToTheSameStateAndVerdicts) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  TrialLog log({.seed = 23});
  const facts::Range range = log.NextRange(500);
  Batch batch = log.BatchOf(range);
  batch.changes = ChangesOf(50);
  ASSERT_TRUE(store->Append(batch).ok());
  const Hash digest = *store->StateDigest();

  ASSERT_TRUE(store->ClearFold().ok());
  EXPECT_EQ(store->folded(), 0U);
  EXPECT_EQ(*store->StateDigest(), Hash{});
  EXPECT_TRUE(store->IndexEntries("n", 100)->empty());
  EXPECT_EQ(store->point(), log.point());
  EXPECT_TRUE(store->ReadArrival(1).ok());  // the commits stay readable meanwhile

  const std::vector<registry::Verdict> first(batch.verdicts.begin(), batch.verdicts.begin() + 99);
  const std::vector<registry::Verdict> rest(batch.verdicts.begin() + 99, batch.verdicts.end());
  ASSERT_TRUE(store->AppendFold(1, first, {}).ok());
  EXPECT_EQ(store->folded(), 99U);
  ASSERT_TRUE(store->AppendFold(100, rest, batch.changes).ok());
  EXPECT_EQ(store->folded(), log.point().arrivals);
  EXPECT_EQ(*store->StateDigest(), digest);
  EXPECT_EQ(store->IndexEntries("n", 100)->size(), 50U);
  for (std::size_t i = 0; i < log.arrivals().size(); ++i) {
    ASSERT_TRUE(Same(*store->ReadArrival(i + 1), log.arrivals()[i].stored)) << i;
  }
}

TEST(Rebuild, OfAnEmptyLogLeavesNothingToTakeUp) {
  const TempFolder folder;
  TrialLog log({.seed = 25});
  {
    const auto store = OpenForWriting(folder.path());
    ASSERT_TRUE(store->ClearFold().ok());
    ASSERT_TRUE(log.AppendTo(*store, 10).ok());
  }
  const auto store = OpenForWriting(folder.path());
  EXPECT_EQ(store->folded(), log.point().arrivals);
  EXPECT_TRUE(log.AppendTo(*store, 10).ok());
  for (std::size_t i = 0; i < log.arrivals().size(); ++i) {
    ASSERT_TRUE(Same(*store->ReadArrival(i + 1), log.arrivals()[i].stored)) << i;
  }
}

TEST(Rebuild, BrokenOffIsRememberedAndBarsTheLog) {
  const TempFolder folder;
  TrialLog log({.seed = 24});
  {
    const auto store = OpenForWriting(folder.path());
    ASSERT_TRUE(log.AppendTo(*store, 100).ok());
    ASSERT_TRUE(store->ClearFold().ok());
    ASSERT_TRUE(store->AppendFold(1, std::vector<registry::Verdict>(40), {}).ok());
  }
  const auto store = OpenForWriting(folder.path());
  EXPECT_EQ(store->folded(), 40U);
  const facts::Range range = log.NextRange(1);
  const Batch batch = log.BatchOf(range);
  EXPECT_EQ(ReasonOf(store->Append(batch)), "FOLD_UNFINISHED");
  const std::vector<registry::Verdict> rest(store->point().arrivals - 40);
  ASSERT_TRUE(store->AppendFold(41, rest, {}).ok());
  EXPECT_TRUE(store->Append(batch).ok());
}

}  // namespace
}  // namespace broodpact::store
