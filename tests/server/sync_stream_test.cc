// Goal: a stream reads no further than its pushes may wait, and goes on when they are answered.
// Method: a stream over a pipe that the test holds, and an arrival log that works when it is told.

#include "server/sync_stream.h"

#include <limits>
#include <memory>
#include <sstream>
#include <string>
#include <utility>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/device/clock.h"
#include "client/device/key.h"
#include "server/door.h"
#include "tests/device/temporary_folder.h"
#include "tests/facts/any_chain.h"
#include "tests/server/founded_log.h"

namespace broodpact::server {
namespace {

// Gives the stream a message when the test has one.
class HeldPipe final : public Pipe {
 public:
  explicit HeldPipe(const DeviceId& caller) : caller_(caller) {}

  absl::StatusOr<Caller> Who(const Callers& callers) const override {
    absl::StatusOr<Caller> caller = callers.Member(caller_);
    if (caller.ok()) caller->until_ms = std::numeric_limits<std::int64_t>::max();
    return caller;
  }
  void Read(v1::SyncRequest& request) override { into_ = &request; }
  void Write(const v1::SyncResponse& response, Urgency /*urgency*/) override {
    writing_ = true;
    if (response.has_push_receipt()) acknowledged_ = response.push_receipt().chain_seq();
  }
  void Finish(const absl::Status& status) override { end_ = status; }

  // Whether the stream asks for a message.
  bool reads() const { return into_ != nullptr; }
  // The place in the chain up to which receipts came.
  std::uint64_t acknowledged() const { return acknowledged_; }
  const absl::Status& end() const { return end_; }

  void Say(SyncStream& stream, const v1::SyncRequest& request) {
    *std::exchange(into_, nullptr) = request;
    stream.OnReadDone(true);
    Confirm(stream);
  }
  // Everything that was written has gone out.
  void Confirm(SyncStream& stream) {
    while (std::exchange(writing_, false)) stream.OnWriteDone(true);
  }

 private:
  DeviceId caller_;
  v1::SyncRequest* into_ = nullptr;
  bool writing_ = false;
  std::uint64_t acknowledged_ = 0;
  absl::Status end_;
};

class SyncStreamTest : public ::testing::Test {
 protected:
  SyncStreamTest() {
    Found(*log_, mira_);
    stream_ = Open(pipe_);
    v1::SyncRequest hello;
    hello.mutable_hello()->set_cooperative_id(std::string(ViewOf(log_->cooperative())));
    hello.mutable_hello()->set_incarnation(1);
    pipe_.Say(*stream_, hello);
  }

  std::shared_ptr<SyncStream> Open(HeldPipe& pipe) {
    return SyncStream::Open({.store = *store_,
                             .arrival_log = *log_,
                             .callers = callers_,
                             .clock = clock_,
                             .log = lines_,
                             .allowance = allowance_},
                            pipe);
  }

  void Push() {
    v1::SyncRequest request;
    request.mutable_push()->add_commits(mira_.Write({facts::AnyMoult(1)}));
    request.mutable_push()->set_signature(std::string(ViewOf(mira_.Sign())));
    pipe_.Say(*stream_, request);
  }

  device::TemporaryFolder folder_;
  const device::Clock& clock_ = device::SystemClock();
  std::ostringstream out_;
  Log lines_{out_, Level::kError, clock_};
  device::SecretKey log_key_ = device::SecretKey::Generate();
  std::unique_ptr<store::Store> store_ =
      *store::Store::Open(folder_ / "replica", store::Access::kReadWrite);
  Callers callers_{*store_, clock_};
  std::unique_ptr<ArrivalLog> log_ = *ArrivalLog::Start({.store = *store_,
                                                         .log_key = log_key_,
                                                         .clock = clock_,
                                                         .log = lines_,
                                                         .pace = Pace::kByHand});
  facts::Author mira_{1, Hash{}};
  HeldPipe pipe_{mira_.chain().device};
  Allowance allowance_;
  std::shared_ptr<SyncStream> stream_;
};

TEST_F(SyncStreamTest, OfWhoIsNoMemberEndsBeforeItIsRead) {
  HeldPipe pipe{DeviceOf(device::SecretKey::Generate().public_key())};
  const std::shared_ptr<SyncStream> stream = Open(pipe);
  EXPECT_FALSE(pipe.reads());
  EXPECT_EQ(ReasonOf(pipe.end()), "DEVICE_UNKNOWN");
}

TEST_F(SyncStreamTest, EndsWhereItsDeviceHasBroughtTooMuch) {
  ASSERT_TRUE(allowance_.Take(mira_.chain().device, kAllowanceBytes - 1, clock_.NowMillis()).ok());
  Push();
  EXPECT_EQ(ReasonOf(pipe_.end()), "PUSHED_TOO_MUCH");
  while (log_->Work()) continue;
  EXPECT_EQ(store_->point().arrivals, 1U);
}

TEST_F(SyncStreamTest, ReadsNoFurtherThanPushesMayWait) {
  for (int i = 0; i < kPushesWaitingMax; ++i) {
    ASSERT_TRUE(pipe_.reads()) << "after push " << i;
    Push();
  }
  EXPECT_FALSE(pipe_.reads());
  EXPECT_EQ(store_->point().arrivals, 1U);
}

TEST_F(SyncStreamTest, ReadsOnWhenThePushesThatWaitedAreAnswered) {
  for (int i = 0; i < kPushesWaitingMax && pipe_.reads(); ++i) Push();
  while (log_->Work()) pipe_.Confirm(*stream_);
  EXPECT_EQ(pipe_.acknowledged(), mira_.head().seq);
  ASSERT_TRUE(pipe_.reads());
  Push();
  while (log_->Work()) pipe_.Confirm(*stream_);
  EXPECT_EQ(pipe_.acknowledged(), kPushesWaitingMax + 2U);
  EXPECT_TRUE(pipe_.end().ok()) << pipe_.end();
}

}  // namespace
}  // namespace broodpact::server
