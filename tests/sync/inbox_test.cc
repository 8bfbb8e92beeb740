// Goal: what the reader puts in comes out in order, small ranges become one while nobody takes
// them, and no more than a few wait. Method: both ends on one thread; a second one where one must
// block.

#include "client/sync/inbox.h"

#include <thread>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/sync/session.h"

namespace broodpact::sync {
namespace {

// A range of `count` arrivals after `before`; the contents do not matter here.
Received RangeOf(std::uint64_t before, std::size_t count, std::size_t bytes = 1) {
  Received received;
  received.range.before.arrivals = before;
  received.range.after.arrivals = before + count;
  received.range.arrivals.resize(count);
  received.range.bytes.resize(count);
  received.range.signatures.resize(count);
  received.range.log_hashes.resize(count);
  received.bytes = bytes;
  return received;
}

TEST(Inbox, GivesSmallNewsAtOnceAndTheNewestOfIt) {
  Inbox inbox;
  inbox.PutWelcome({.chain_head = {.seq = 3}, .arrivals = 9});
  inbox.PutReceipt({.chain_seq = 4, .arrivals = 10});
  inbox.PutReceipt({.chain_seq = 5, .arrivals = 11});
  const News news = inbox.Take();
  ASSERT_TRUE(news.welcome.has_value());
  EXPECT_EQ(news.welcome->chain_head.seq, 3U);
  ASSERT_TRUE(news.receipt.has_value());
  EXPECT_EQ(news.receipt->chain_seq, 5U);
  EXPECT_FALSE(news.received.has_value());
  EXPECT_FALSE(news.end.has_value());
}

TEST(Inbox, GivesEveryHeadInOrderAndOfTooManyTheNewest) {
  Inbox inbox;
  for (std::uint64_t arrivals = 1; arrivals <= kHeadsWaitingMax + 3; ++arrivals) {
    Head head;
    head.point.arrivals = arrivals;
    inbox.PutHead(head);
  }
  const News news = inbox.Take();
  ASSERT_EQ(news.heard.size(), kHeadsWaitingMax);
  EXPECT_EQ(news.heard.front().point.arrivals, 4U);
  EXPECT_EQ(news.heard.back().point.arrivals, kHeadsWaitingMax + 3);
}

TEST(Inbox, JoinsRangesThatWait) {
  Inbox inbox;
  Received second = RangeOf(2, 3);
  second.head.emplace().epoch = 1;
  ASSERT_TRUE(inbox.Put(RangeOf(0, 2)));
  ASSERT_TRUE(inbox.Put(std::move(second)));
  const News news = inbox.Take();
  ASSERT_TRUE(news.received.has_value());
  EXPECT_EQ(news.received->range.before.arrivals, 0U);
  EXPECT_EQ(news.received->range.after.arrivals, 5U);
  EXPECT_EQ(news.received->range.arrivals.size(), 5U);
  EXPECT_EQ(news.received->range.signatures.size(), 5U);
  EXPECT_TRUE(news.received->head.has_value());
}

TEST(Inbox, DoesNotJoinBeyondTheBoundsOfARange) {
  Inbox inbox;
  ASSERT_TRUE(inbox.Put(RangeOf(0, kRangeCommitsMax)));
  ASSERT_TRUE(inbox.Put(RangeOf(kRangeCommitsMax, 1)));
  EXPECT_EQ(inbox.Take().received->range.arrivals.size(), kRangeCommitsMax);
  EXPECT_EQ(inbox.Take().received->range.arrivals.size(), 1U);
  ASSERT_TRUE(inbox.Put(RangeOf(0, 1, kRangeBytesMax)));
  ASSERT_TRUE(inbox.Put(RangeOf(1, 1)));
  EXPECT_EQ(inbox.Take().received->range.arrivals.size(), 1U);
}

TEST(Inbox, GivesTheEndAfterAllRanges) {
  Inbox inbox;
  ASSERT_TRUE(inbox.Put(RangeOf(0, kRangeCommitsMax)));
  ASSERT_TRUE(inbox.Put(RangeOf(kRangeCommitsMax, 1)));
  inbox.PutEnd(absl::OkStatus());
  EXPECT_FALSE(inbox.Take().end.has_value());
  EXPECT_FALSE(inbox.Take().end.has_value());
  EXPECT_TRUE(inbox.Take().end.has_value());
}

TEST(Inbox, MakesTheReaderWaitAndLetsItGoWhenClosed) {
  Inbox inbox;
  for (std::size_t i = 0; i < kRangesWaitingMax; ++i) {
    ASSERT_TRUE(inbox.Put(RangeOf(0, kRangeCommitsMax)));
  }
  bool taken = true;
  std::jthread reader([&] { taken = inbox.Put(RangeOf(0, kRangeCommitsMax)); });
  inbox.Close();
  reader.join();
  EXPECT_FALSE(taken);
}

TEST(Inbox, WaitsForTheEndNoLongerThanItIsTold) {
  Inbox inbox;
  EXPECT_FALSE(inbox.AwaitEnd(std::chrono::milliseconds(1)));
  inbox.PutEnd(absl::OkStatus());
  EXPECT_TRUE(inbox.AwaitEnd(std::chrono::milliseconds(1)));
}

}  // namespace
}  // namespace broodpact::sync
