// Goal: every submission is answered once, with its place durable or with a reason; a group loses
// no one for another's fault; the head that is told is the log's. Method: an arrival log over a
// store, and submissions from several threads.

#include "server/arrival_log.h"

#include <chrono>
#include <future>
#include <sstream>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "tests/device/temporary_folder.h"
#include "tests/facts/any_chain.h"

namespace broodpact::server {
namespace {

class ArrivalLogTest : public ::testing::Test {
 protected:
  ArrivalLogTest() : trial_(facts::LogOfTwo(0)) { Open(); }

  void Open(Pace pace = Pace::kThreads) {
    store_ = *store::Store::Open(folder_ / "replica", store::Access::kReadWrite);
    log_ = *ArrivalLog::Start({.store = *store_,
                               .log_key = log_key_,
                               .clock = device::SystemClock(),
                               .log = lines_,
                               .pace = pace});
  }

  void Close() {
    log_.reset();
    store_.reset();
  }

  static server::Run RunOf(const std::string& bytes, const Signature& signature) {
    server::Run run;
    run.commits.push_back(*facts::ParseCommit(bytes));
    run.chain = facts::ChainOf(run.commits.front().header);
    run.bytes.push_back(bytes);
    run.bytes_size = bytes.size();
    run.signature = signature;
    return run;
  }

  // So many commits in one run.
  static server::Run RunOfMany(facts::Author& author, std::uint64_t count) {
    server::Run run;
    for (std::uint64_t i = 0; i < count; ++i) {
      const std::string bytes = author.Write({facts::AnyMoult(1)});
      run.commits.push_back(*facts::ParseCommit(bytes));
      run.bytes.push_back(bytes);
      run.bytes_size += bytes.size();
    }
    run.chain = author.chain();
    run.signature = author.Sign();
    return run;
  }

  std::future<absl::StatusOr<Receipt>> Submit(server::Run run, bool founds = false) {
    const auto promise = std::make_shared<std::promise<absl::StatusOr<Receipt>>>();
    log_->Submit({.run = std::move(run),
                  .meta = {},
                  .founds = founds,
                  .answer = [promise](const absl::StatusOr<Receipt>& answer) {
                    promise->set_value(answer);
                  }});
    return promise->get_future();
  }

  absl::StatusOr<Receipt> Found() {
    return Submit(RunOf(trial_.commits[0], *trial_.signatures[0]), true).get();
  }

  device::TemporaryFolder folder_;
  facts::TrialLog trial_;
  device::SecretKey log_key_ = device::SecretKey::Generate();
  std::ostringstream out_;
  Log lines_{out_, Level::kError, device::SystemClock()};
  std::unique_ptr<store::Store> store_;
  std::unique_ptr<ArrivalLog> log_;
};

TEST_F(ArrivalLogTest, BeginsWithAFounding) {
  EXPECT_FALSE(log_->claimed());
  const auto receipt = Found();
  ASSERT_TRUE(receipt.ok()) << receipt.status();
  EXPECT_EQ(receipt->chain_seq, 1U);
  EXPECT_EQ(receipt->head.point, store_->point());
  EXPECT_EQ(receipt->head.point.arrivals, 1U);
  EXPECT_EQ(receipt->verdict.kind, registry::VerdictKind::kCounted);
  EXPECT_TRUE(log_->claimed());
  EXPECT_EQ(log_->cooperative(), trial_.cooperative);
  EXPECT_TRUE(VerifySignature(log_key_.public_key(),
                              facts::HeadMessage(trial_.cooperative, receipt->head),
                              receipt->head.signature));
  EXPECT_EQ(receipt->head.epoch, facts::kFirstEpoch);
  EXPECT_EQ(receipt->head.tree_root, *store_->TreeRootAt(1));
}

TEST_F(ArrivalLogTest, BelongsToItsFirstFounderAlone) {
  ASSERT_TRUE(Found().ok());
  EXPECT_TRUE(Found().ok());  // again, the same
  EXPECT_EQ(store_->point().arrivals, 1U);
  facts::Author other(3, Hash{});
  facts::Founding founding{.name = "another", .keeper_name = "iva"};
  founding.keeper.bytes.back() = 3;
  founding.device_key = other.public_key();
  const std::string bytes = other.Write({founding});
  EXPECT_EQ(ReasonOf(Submit(RunOf(bytes, other.Sign()), true).get().status()), "SERVER_TAKEN");
}

TEST_F(ArrivalLogTest, AnswersAllWhoWaitAndLosesNoneForAnothersFault) {
  ASSERT_TRUE(Found().ok());
  std::vector<std::future<absl::StatusOr<Receipt>>> good;
  std::vector<std::future<absl::StatusOr<Receipt>>> holed;
  for (std::uint8_t device = 10; device < 20; ++device) {
    facts::Author author(device, trial_.cooperative);
    const std::string first = author.Write({facts::AnyMoult(1)});
    good.push_back(Submit(RunOf(first, author.Sign())));
    author.Write({facts::AnyMoult(2)});
    const std::string third = author.Write({facts::AnyMoult(3)});
    holed.push_back(Submit(RunOf(third, author.Sign())));
  }
  for (auto& answer : good) {
    const auto receipt = answer.get();
    ASSERT_TRUE(receipt.ok()) << receipt.status();
    EXPECT_LE(receipt->head.point.arrivals, 11U);
  }
  for (auto& answer : holed) EXPECT_EQ(ReasonOf(answer.get().status()), "CHAIN_HOLE");
  EXPECT_EQ(store_->point().arrivals, 11U);
}

TEST_F(ArrivalLogTest, TakesRunsOfOneChainThatWaitTogether) {
  ASSERT_TRUE(Found().ok());
  facts::Author author(10, trial_.cooperative);
  std::vector<std::future<absl::StatusOr<Receipt>>> answers;
  std::vector<server::Run> runs;
  for (std::uint32_t i = 0; i < 50; ++i) {
    const std::string bytes = author.Write({facts::AnyMoult(i)});
    runs.push_back(RunOf(bytes, author.Sign()));
  }
  for (const server::Run& run : runs) {
    answers.push_back(Submit(run));
    answers.push_back(Submit(run));  // and once more, as after a lost answer
  }
  for (auto& answer : answers) EXPECT_TRUE(answer.get().ok());
  EXPECT_EQ(store_->point().arrivals, 51U);
}

TEST_F(ArrivalLogTest, KnowsWhatItWasAtEveryPlaceWhileItGrows) {
  ASSERT_TRUE(Found().ok());
  facts::Author writer(10, trial_.cooperative);
  facts::Author reader(11, trial_.cooperative);
  for (int round = 0; round < 2; ++round) {
    ASSERT_TRUE(Submit(RunOfMany(writer, 290)).get().ok());
    const std::uint64_t arrivals = store_->point().arrivals;
    server::Run seeing = RunOfMany(reader, arrivals);
    for (std::uint64_t i = 0; i < arrivals; ++i) {
      const std::uint64_t place = arrivals - i;
      seeing.commits[i].header.seen = facts::SeenOf(place, *store_->LogHashAt(place));
    }
    const auto receipt = Submit(std::move(seeing)).get();
    ASSERT_TRUE(receipt.ok()) << receipt.status();
  }
}

// Its author does not know that a server before this one had it; whoever does comes a moment later.
TEST_F(ArrivalLogTest, KeepsTheFirstDayOfWhatSomebodyBesideItsAuthorProves) {
  ASSERT_TRUE(Found().ok());
  Close();
  Open(Pace::kByHand);
  facts::Author author(10, trial_.cooperative);
  const std::string bytes = author.Write({facts::AnyMoult(1)});
  const server::Run brought = RunOf(bytes, author.Sign());
  server::Run proved = brought;
  proved.first_times_ms = {1'000};
  auto first = Submit(brought);
  auto second = Submit(proved);
  while (log_->Work()) {
  }
  EXPECT_TRUE(first.get().ok());
  EXPECT_TRUE(second.get().ok());
  const auto stored = store_->ReadArrival(2);
  ASSERT_TRUE(stored.ok()) << stored.status();
  EXPECT_EQ(stored->first_time_ms, 1'000);
  EXPECT_EQ(store_->point().arrivals, 2U);
}

TEST_F(ArrivalLogTest, GoesOnWhereItStoppedAndTimeNeverGoesBack) {
  ASSERT_TRUE(Found().ok());
  const facts::LogPoint point = store_->point();
  Close();
  Open();
  EXPECT_EQ(log_->herald().head().point, point);
  EXPECT_EQ(log_->cooperative(), trial_.cooperative);
  facts::Author author(10, trial_.cooperative);
  const std::string bytes = author.Write({facts::AnyMoult(1)});
  ASSERT_TRUE(Submit(RunOf(bytes, author.Sign())).get().ok());
  EXPECT_GE(store_->ReadArrival(2)->time_ms, store_->ReadArrival(1)->time_ms);
}

TEST_F(ArrivalLogTest, RefusesWhatComesAfterItsStop) {
  ASSERT_TRUE(Found().ok());
  facts::Author author(10, trial_.cooperative);
  const std::string bytes = author.Write({facts::AnyMoult(1)});
  log_->Stop();
  EXPECT_EQ(ReasonOf(Submit(RunOf(bytes, author.Sign())).get().status()), "STOPPING");
}

TEST_F(ArrivalLogTest, TakesOnSoMuchAndMoreOnceThatIsWritten) {
  ASSERT_TRUE(Found().ok());
  Close();
  Open(Pace::kByHand);
  facts::Author author(10, trial_.cooperative);
  std::vector<server::Run> runs;
  for (std::uint32_t i = 0; i < 3; ++i) {
    const std::string bytes = author.Write({facts::AnyMoult(i)});
    runs.push_back(RunOf(bytes, author.Sign()));
    runs.back().bytes_size = kWaitingBytesMax / 2;  // what it says is believed
  }
  auto first = Submit(runs[0]);
  auto second = Submit(runs[1]);
  auto third = Submit(runs[2]);
  ASSERT_EQ(third.wait_for(std::chrono::seconds(0)), std::future_status::ready);
  EXPECT_EQ(ReasonOf(third.get().status()), "SERVER_BUSY");
  while (log_->Work()) continue;
  EXPECT_TRUE(first.get().ok());
  EXPECT_TRUE(second.get().ok());
  auto again = Submit(runs[2]);
  while (log_->Work()) continue;
  EXPECT_TRUE(again.get().ok());
}

TEST_F(ArrivalLogTest, KeepsWhatItGrewByForThoseWhoHaveAllBeforeIt) {
  ASSERT_TRUE(Found().ok());
  facts::Author author(10, trial_.cooperative);
  const std::string bytes = author.Write({facts::AnyMoult(1)});
  ASSERT_TRUE(Submit(RunOf(bytes, author.Sign())).get().ok());
  const std::shared_ptr<const Tail> tail = log_->herald().tail();
  ASSERT_NE(tail, nullptr);
  EXPECT_EQ(tail->arrivals_before, 1U);
  EXPECT_EQ(tail->arrivals_after, 2U);
}

}  // namespace
}  // namespace broodpact::server
