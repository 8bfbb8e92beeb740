// Goal: the log hash at any place is that of the whole log up to there, with checkpoints or
// without. Method: a log of a few checkpoints' length in a store, and the hash computed by hand
// beside it.

#include "server/log_hashes.h"

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/replica/ledger.h"
#include "tests/device/temporary_folder.h"
#include "tests/facts/any_chain.h"

namespace broodpact::server {
namespace {

constexpr std::size_t kArrivals = 2 * kCheckpointArrivals + 100;

class LogHashesTest : public ::testing::Test {
 protected:
  LogHashesTest() : log_(facts::LogOfTwo(kArrivals - 2)) {
    store_ = *store::Store::Open(folder_ / "replica", store::Access::kReadWrite);
    replica::Ledger ledger(*store_);
    EXPECT_TRUE(ledger.SetCooperative(log_.cooperative).ok());
    range_.before = store_->point();
    range_.after = range_.before;
    EXPECT_TRUE(facts::ReadOnto(range_, log_.Records()).ok());
    hashes_.push_back(log_.cooperative);
    for (const facts::Arrived& arrived : range_.arrivals) {
      hashes_.push_back(facts::NextLogHash(hashes_.back(), arrived.commit.hash, arrived.time_ms));
    }
    EXPECT_TRUE(ledger.Append(range_, std::nullopt, store::Durability::kWritten).ok());
  }

  void ExpectAllHashes() {
    for (const std::uint64_t arrivals :
         {std::uint64_t{0}, std::uint64_t{1}, kCheckpointArrivals - 1, kCheckpointArrivals,
          kCheckpointArrivals + 1, 2 * kCheckpointArrivals, std::uint64_t{kArrivals - 1},
          std::uint64_t{kArrivals}}) {
      const auto hash = LogHashAt(*store_, log_.cooperative, arrivals);
      ASSERT_TRUE(hash.ok()) << hash.status();
      EXPECT_EQ(*hash, hashes_[arrivals]) << arrivals;
    }
  }

  device::TemporaryFolder folder_;
  facts::TrialLog log_;
  facts::Range range_;
  std::unique_ptr<store::Store> store_;
  std::vector<Hash> hashes_;
};

TEST_F(LogHashesTest, AreFoundWithoutCheckpoints) {
  ExpectAllHashes();
}

TEST_F(LogHashesTest, AreFoundFromCheckpoints) {
  ASSERT_TRUE(KeepLogHashes(*store_, range_).ok());
  ExpectAllHashes();
  const auto kept = store_->Meta("h/0000000000001000");
  ASSERT_TRUE(kept.ok() && kept->has_value());
  EXPECT_EQ(HashOfBytes(**kept), hashes_[kCheckpointArrivals]);
}

TEST_F(LogHashesTest, AreNotFoundBeyondTheEnd) {
  EXPECT_EQ(ReasonOf(LogHashAt(*store_, log_.cooperative, kArrivals + 1).status()), "LOG_SHORT");
}

}  // namespace
}  // namespace broodpact::server
