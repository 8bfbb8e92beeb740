// Goal: what a server sends becomes ranges that follow on one another, and a server that tells
// something else than before is caught. Method: messages made by hand from a small log.

#include "client/sync/receiver.h"

#include <gtest/gtest.h>

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/status.h"
#include "client/device/key.h"
#include "client/sync/chunk.h"
#include "tests/facts/any_chain.h"

namespace broodpact::sync {
namespace {

class ReceiverTest : public ::testing::Test {
 protected:
  ReceiverTest() : log_(facts::LogOfTwo(4)) {
    whole_.before.log_hash = log_.cooperative;
    whole_.after = whole_.before;
    start_ = whole_.before;
    EXPECT_TRUE(facts::ReadOnto(whole_, log_.Records()).ok());
  }

  v1::SyncResponse Chunk(std::uint64_t before, const std::string& records) const {
    v1::SyncResponse message;
    message.mutable_chunk()->set_arrivals_before(before);
    message.mutable_chunk()->set_records_zstd(PackRecords(records));
    return message;
  }

  v1::SyncResponse HeadAt(const facts::LogPoint& point, char key = 'k') const {
    v1::SyncResponse message;
    Write(SignHead(device::SecretKey::OfSeed(std::string(32, key)), log_.cooperative,
                   {.epoch = 1, .point = point, .time_ms = 1}),
          *message.mutable_head());
    return message;
  }

  facts::TrialLog log_;
  facts::Range whole_;
  facts::LogPoint start_;
  Inbox inbox_;
};

TEST_F(ReceiverTest, HandsOverWhatItHasWhenTheServerSaysThatThatIsAll) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  ASSERT_TRUE(receiver.Receive(Chunk(0, log_.Records())).ok());
  ASSERT_TRUE(receiver.Receive(HeadAt(whole_.after)).ok());
  const News news = inbox_.Take();
  ASSERT_TRUE(news.received.has_value());
  EXPECT_EQ(news.received->range.before, start_);
  EXPECT_EQ(news.received->range.after, whole_.after);
  EXPECT_EQ(news.received->range.arrivals.size(), 6U);
  EXPECT_TRUE(news.received->head.has_value());
}

TEST_F(ReceiverTest, RefusesAChunkThatDoesNotFollow) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  EXPECT_EQ(ReasonOf(receiver.Receive(Chunk(1, log_.Records(2)))), "LOG_ORDER");
}

TEST_F(ReceiverTest, RefusesAChunkAgain) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  ASSERT_TRUE(receiver.Receive(Chunk(0, log_.Records())).ok());
  EXPECT_EQ(ReasonOf(receiver.Receive(Chunk(0, log_.Records()))), "LOG_ORDER");
}

TEST_F(ReceiverTest, RefusesAHeadThatIsNotOfTheLogThatWasSent) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  ASSERT_TRUE(receiver.Receive(Chunk(0, log_.Records())).ok());
  facts::LogPoint other = whole_.after;
  other.log_hash[0] ^= 1U;
  const absl::Status status = receiver.Receive(HeadAt(other));
  EXPECT_EQ(status.code(), absl::StatusCode::kDataLoss);
  EXPECT_EQ(ReasonOf(status), "LOG_OTHER");
}

TEST_F(ReceiverTest, HandsOnEveryHeadAlsoOneThatConvictsTheServer) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  facts::LogPoint ahead = whole_.after;
  ahead.arrivals += 10;
  ASSERT_TRUE(receiver.Receive(HeadAt(ahead)).ok());
  ASSERT_TRUE(receiver.Receive(Chunk(0, log_.Records())).ok());
  facts::LogPoint other = whole_.after;
  other.log_hash[0] ^= 1U;
  ASSERT_FALSE(receiver.Receive(HeadAt(other)).ok());
  const News news = inbox_.Take();
  ASSERT_EQ(news.heard.size(), 2U);
  EXPECT_EQ(news.heard[0].point, ahead);
  EXPECT_EQ(news.heard[1].point, other);
}

TEST_F(ReceiverTest, RefusesAWelcomeOfAnotherHistoryAtTheSamePlace) {
  Receiver receiver(log_.cooperative, whole_.after, inbox_);
  facts::LogPoint other = whole_.after;
  other.log_hash[31] ^= 1U;
  v1::SyncResponse welcome;
  *welcome.mutable_welcome()->mutable_head() = HeadAt(other).head();
  EXPECT_EQ(ReasonOf(receiver.Receive(welcome)), "LOG_OTHER");
}

TEST_F(ReceiverTest, RefusesASecondKeyWithinASession) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  ASSERT_TRUE(receiver.Receive(HeadAt(start_, 'a')).ok());
  EXPECT_EQ(ReasonOf(receiver.Receive(HeadAt(start_, 'b'))), "LOG_OTHER");
}

TEST_F(ReceiverTest, RefusesAReceiptUnderABadSignature) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  v1::SyncResponse receipt;
  receipt.mutable_push_receipt()->set_chain_seq(1);
  *receipt.mutable_push_receipt()->mutable_head() = HeadAt(start_).head();
  receipt.mutable_push_receipt()->mutable_head()->set_arrivals(99);
  EXPECT_EQ(ReasonOf(receiver.Receive(receipt)), "HEAD_SIGNATURE_BAD");
}

TEST_F(ReceiverTest, RefusesRecordsThatAreDamaged) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  const std::string records = log_.Records();
  EXPECT_EQ(ReasonOf(receiver.Receive(Chunk(0, records.substr(0, records.size() - 1)))),
            "RECORD_FORM");
}

TEST_F(ReceiverTest, PassesOverWhatANewerServerSays) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  EXPECT_TRUE(receiver.Receive(v1::SyncResponse()).ok());
}

TEST_F(ReceiverTest, EndsWhenNobodyTakesAnyMore) {
  Receiver receiver(log_.cooperative, start_, inbox_);
  inbox_.Close();
  EXPECT_EQ(ReasonOf(receiver.Receive(HeadAt(start_))), "SESSION_OVER");
}

}  // namespace
}  // namespace broodpact::sync
