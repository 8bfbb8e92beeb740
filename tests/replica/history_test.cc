// Goal: a server that tells two histories is told by the first head, or the first commit, that is
// not of the log. Method: a cooperative without a network; heads signed by a key of the test.

#include "client/replica/internal/history.h"

#include <memory>

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "client/replica/internal/known_log.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddGroup;
using testing::Society;

class Histories : public ::testing::Test {
 protected:
  Histories() {
    society_.Found("mira");
    society_.Enter("tomas");
    for (int i = 0; i < 20; ++i) AddGroup(society_, "mira", "group " + std::to_string(i));
    society_.Deliver();
  }

  const store::Store& store() { return society_.At("tomas").store(); }

  // Tomas's, whose replica is closed.
  absl::StatusOr<std::unique_ptr<store::Store>> Database() {
    society_.Close("tomas");
    return store::Store::Open(society_.HomeOf("tomas").database(), store::Access::kReadWrite);
  }

  static sync::Epoch LossAfter6Of7() {
    sync::Epoch epoch;
    epoch.epoch = 2;
    epoch.common.arrivals = 6;
    epoch.lost_arrivals = 7;
    return epoch;
  }

  // The head that an honest server signs.
  sync::Head HeadAt(std::uint64_t arrivals) {
    return sync::SignHead(
        log_key_, society_.At("tomas").cooperative(),
        {.epoch = 1,
         .point = {.arrivals = arrivals, .log_hash = *store().LogHashAt(arrivals)},
         .tree_root = *store().TreeRootAt(arrivals),
         .time_ms = 1'000});
  }

  Society society_;
  const device::SecretKey log_key_ = device::SecretKey::OfSeed(std::string(32, 'l'));
};

TEST_F(Histories, FitWhereTheHeadIsOfABeginningOfTheLog) {
  const std::uint64_t all = store().point().arrivals;
  for (std::uint64_t arrivals = 0; arrivals <= all; ++arrivals) {
    EXPECT_EQ(*FitOf(store(), HeadAt(arrivals)), HeadFit::kOurs) << arrivals;
  }
  sync::Head head = HeadAt(all);
  ++head.point.arrivals;
  EXPECT_EQ(*FitOf(store(), head), HeadFit::kAhead);
}

TEST_F(Histories, DoNotFitWhereHashOrRootIsAnother) {
  for (const std::uint64_t arrivals :
       {std::uint64_t{1}, std::uint64_t{7}, store().point().arrivals}) {
    sync::Head head = HeadAt(arrivals);
    head.point.log_hash[5] ^= 1U;
    EXPECT_EQ(*FitOf(store(), head), HeadFit::kOther);
    head = HeadAt(arrivals);
    head.tree_root[5] ^= 1U;
    EXPECT_EQ(*FitOf(store(), head), HeadFit::kOther);
  }
}

TEST_F(Histories, ThatConvictAreKeptOnceAndInBounds) {
  const auto database = Database();
  ASSERT_TRUE(database.ok()) << database.status();
  sync::Head ours;
  ours.point = {.arrivals = 7, .log_hash = Sha256("ours")};
  ours.signature.fill(1);
  ours.server_key.fill(2);
  sync::Head theirs = ours;
  for (std::uint64_t i = 0; i < 2 * kDoubtsMax; ++i) {
    theirs.point.log_hash = Sha256(std::to_string(i));
    ASSERT_TRUE(KeepDoubt(**database, TwoHistories(ours, theirs)).ok());
    ASSERT_TRUE(KeepDoubt(**database, TwoHistories(ours, theirs)).ok());
  }
  const auto doubts = ReadDoubts(**database);
  ASSERT_TRUE(doubts.ok()) << doubts.status();
  ASSERT_EQ(doubts->size(), kDoubtsMax);
  theirs.point.log_hash = Sha256("0");
  EXPECT_EQ(doubts->front(), TwoHistories(ours, theirs));
}

TEST_F(Histories, ThatTheServerSaysItLostAreNoDoubtAnyMore) {
  const auto database = Database();
  ASSERT_TRUE(database.ok()) << database.status();
  sync::Head ours;
  ours.epoch = 1;
  ours.point = {.arrivals = 7, .log_hash = Sha256("ours")};
  ours.signature.fill(1);
  sync::Head lost = ours;
  lost.point.log_hash = Sha256("lost");
  sync::Head other = ours;
  other.point = {.arrivals = 5, .log_hash = Sha256("other")};
  sync::Head before = other;
  before.point.log_hash = Sha256("before");
  ASSERT_TRUE(KeepDoubt(**database, TwoHistories(ours, lost)).ok());
  ASSERT_TRUE(KeepDoubt(**database, TwoHistories(before, other)).ok());
  ASSERT_TRUE(KeepEpochs(**database, {LossAfter6Of7()}).ok());
  const auto doubts = ReadDoubts(**database);
  ASSERT_TRUE(doubts.ok()) << doubts.status();
  ASSERT_EQ(doubts->size(), 1U);  // the one up to the common place stays
  EXPECT_EQ(doubts->front().theirs.point, other.point);
}

TEST_F(Histories, ThatACommitHasSeenStayInDoubtUnlessTheServerSaysItLostThose) {
  const auto database = Database();
  ASSERT_TRUE(database.ok()) << database.status();
  const auto seen_at = [](std::uint64_t arrivals) {
    Doubt doubt{.reason = "LOG_FORKED", .message = "made on another history"};
    doubt.ours.epoch = 1;
    doubt.ours.point.arrivals = 9;  // which is lost too
    doubt.theirs.point.arrivals = arrivals;
    return doubt;
  };
  for (const std::uint64_t arrivals : {5U, 7U, 8U}) {
    ASSERT_TRUE(KeepDoubt(**database, seen_at(arrivals)).ok());
  }
  ASSERT_TRUE(KeepEpochs(**database, {LossAfter6Of7()}).ok());
  const auto doubts = ReadDoubts(**database);
  ASSERT_TRUE(doubts.ok()) << doubts.status();
  EXPECT_THAT(*doubts, ::testing::ElementsAre(seen_at(5), seen_at(8)));
}

// The log as one range, read anew.
facts::Range RangeOf(const store::Store& database, const Hash& cooperative) {
  facts::Range range{.before = {.arrivals = 0, .log_hash = cooperative}};
  while (range.after.arrivals < database.point().arrivals) {
    const auto slice = database.ReadLog(range.arrivals.size(), 1'000'000);
    EXPECT_TRUE(slice.ok() && facts::ReadOnto(range, slice->records).ok());
    if (!slice.ok() || slice->count == 0) break;
  }
  return range;
}

TEST_F(Histories, AreHeldAgainstWhatCommitsHaveSeen) {
  AddGroup(society_, "tomas", "of tomas");
  society_.Deliver();
  const Hash cooperative = society_.At("tomas").cooperative();
  const facts::Range range = RangeOf(store(), cooperative);
  ASSERT_GT(range.arrivals.back().commit.header.seen.arrivals, 10U);
  EXPECT_TRUE(SeenCheck(store()).Follow(range, {})->empty());

  facts::Range other = range;
  other.arrivals.back().commit.header.seen.log_hash[3] ^= 1U;
  const auto doubts = SeenCheck(store()).Follow(other, {});
  ASSERT_TRUE(doubts.ok());
  ASSERT_EQ(doubts->size(), 1U);
  EXPECT_EQ(doubts->front().reason, "LOG_FORKED");
  EXPECT_THAT(doubts->front().message, ::testing::HasSubstr("two histories"));
  const std::uint64_t seen = range.arrivals.back().commit.header.seen.arrivals;
  EXPECT_EQ(doubts->front().theirs.point.arrivals, seen);

  // What the server says it has lost may have been seen, and nothing beyond it.
  sync::Epoch epoch;
  epoch.epoch = 2;
  epoch.common.arrivals = seen - 1;
  epoch.lost_arrivals = seen;
  EXPECT_TRUE(SeenCheck(store()).Follow(other, {epoch})->empty());
  epoch.common.arrivals = seen - 2;
  epoch.lost_arrivals = seen - 1;
  EXPECT_FALSE(SeenCheck(store()).Follow(other, {epoch})->empty());
}

TEST_F(Histories, OfWhichMoreWasSeenThanThereIsAreDoubted) {
  facts::Range range = RangeOf(store(), society_.At("mira").cooperative());
  facts::Arrived& last = range.arrivals.back();
  last.commit.header.seen = {.arrivals = last.arrival, .log_hash = {1}};
  EXPECT_EQ(SeenCheck(store()).Follow(range, {})->size(), 1U);
}

TEST_F(Histories, AreHeldAgainstWhatWasSeenBeforeTheSessionToo) {
  const std::uint64_t before = store().point().arrivals;
  AddGroup(society_, "tomas", "of tomas");
  society_.Deliver();
  facts::Range range{.before = {.arrivals = before, .log_hash = *store().LogHashAt(before)}};
  ASSERT_TRUE(facts::ReadOnto(range, store().ReadLog(before, 1'000'000)->records).ok());
  facts::Seen& seen = range.arrivals.back().commit.header.seen;
  seen = {.arrivals = 5, .log_hash = FirstHalf<Token>(*store().LogHashAt(5)).bytes};
  EXPECT_TRUE(SeenCheck(store()).Follow(range, {})->empty());
  seen.log_hash[0] ^= 1U;
  EXPECT_FALSE(SeenCheck(store()).Follow(range, {})->empty());
}

}  // namespace
}  // namespace broodpact::replica
