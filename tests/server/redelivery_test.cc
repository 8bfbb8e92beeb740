// Goal: what never arrived is paid for by the device that brings it, as if it were pushed; what had
// arrived costs nothing. Method: an arrival log that works when it is told, an allowance that the
// test holds, and a clock that stands.

#include "server/redelivery.h"

#include <memory>
#include <optional>
#include <sstream>
#include <string>

#include <gtest/gtest.h>

#include "client/base/status.h"
#include "client/device/key.h"
#include "client/sync/chunk.h"
#include "server/recovery.h"
#include "tests/device/temporary_folder.h"
#include "tests/facts/any_chain.h"
#include "tests/server/founded_log.h"

namespace broodpact::server {
namespace {

class StandingClock final : public device::Clock {
 public:
  std::int64_t NowMillis() const override { return 1'790'000'000'000; }
  Day Today() const override { return DayOfMillis(NowMillis()); }
};

// A log of mira, who founded it; somebody else's device brings what she has written.
class RedeliveryTest : public ::testing::Test {
 protected:
  RedeliveryTest() {
    Found(*log_, mira_);
    bringer_.bytes[0] = 7;
  }

  // The next commits of mira, as one run.
  std::string RunOfMira(int count) {
    std::string records;
    for (int i = 0; i < count; ++i) {
      const std::string bytes = mira_.Write({facts::AnyMoult(1)});
      facts::ArrivalView arrival{.commit = bytes, .time_ms = 1'000};
      if (i + 1 == count) arrival.signature = mira_.Sign();
      facts::AppendArrival(records, arrival);
    }
    return records;
  }

  // The reason that the delivery ended with; of the records, so many are proved to have arrived.
  std::string Deliver(const std::string& records, std::uint64_t proven = 0) {
    Redelivery redelivery(
        *log_, callers_,
        {.device = bringer_, .allowance = allowance_, .now_ms = clock_.NowMillis()});
    return ReasonOf(redelivery.Deliver(records, proven));
  }

  // The device has brought so much already that it may bring just so many bytes.
  void SpendAllBut(std::int64_t bytes) {
    ASSERT_TRUE(allowance_.Take(bringer_, kAllowanceBytes - bytes, clock_.NowMillis()).ok());
  }
  bool MayBring(const DeviceId& device, std::int64_t bytes) {
    return allowance_.Take(device, bytes, clock_.NowMillis()).ok();
  }

  device::TemporaryFolder folder_;
  StandingClock clock_;
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
  DeviceId bringer_;
  Allowance allowance_;
};

TEST_F(RedeliveryTest, OfMoreThanTheDeviceMayBringTakesNothing) {
  SpendAllBut(1);
  std::string records = RunOfMira(1);
  records += RunOfMira(2);
  const Recovery recovery({.store = *store_,
                           .arrival_log = *log_,
                           .callers = callers_,
                           .log = lines_,
                           .allowance = allowance_,
                           .log_key = log_key_.public_key()});
  v1::DeliverAgainRequest request;
  request.mutable_chunk()->set_records_zstd(sync::PackRecords(records));
  v1::DeliverAgainResponse response;
  EXPECT_EQ(ReasonOf(recovery.DeliverAgain(bringer_, request, response)), "PUSHED_TOO_MUCH");
  EXPECT_EQ(store_->point().arrivals, 1U);
}

TEST_F(RedeliveryTest, IsPaidForByWhoBringsItAndNotByItsAuthor) {
  EXPECT_EQ(Deliver(RunOfMira(2)), "");
  EXPECT_EQ(store_->point().arrivals, 3U);
  EXPECT_FALSE(MayBring(bringer_, kAllowanceBytes));
  EXPECT_TRUE(MayBring(mira_.chain().device, kAllowanceBytes));
}

TEST_F(RedeliveryTest, OfWhatHasItsPlaceCostsNothing) {
  const std::string records = RunOfMira(2);
  ASSERT_EQ(Deliver(records), "");
  Allowance spent;
  ASSERT_TRUE(spent.Take(bringer_, kAllowanceBytes, clock_.NowMillis()).ok());
  Redelivery again(*log_, callers_,
                   {.device = bringer_, .allowance = spent, .now_ms = clock_.NowMillis()});
  const absl::Status status = again.Deliver(records, 0);
  EXPECT_TRUE(status.ok()) << status;
  EXPECT_EQ(again.known(), 2U);
}

TEST_F(RedeliveryTest, OfWhatIsProvedToHaveArrivedCostsNothing) {
  SpendAllBut(0);
  EXPECT_EQ(Deliver(RunOfMira(2), 2), "");
  EXPECT_EQ(store_->point().arrivals, 3U);
}

TEST_F(RedeliveryTest, OfWhatFollowsOnWhatIsProvedIsPaidFor) {
  SpendAllBut(0);
  EXPECT_EQ(Deliver(RunOfMira(2), 1), "PUSHED_TOO_MUCH");
  EXPECT_EQ(store_->point().arrivals, 1U);
}

TEST_F(RedeliveryTest, OfWhatIsRefusedCostsNothing) {
  RunOfMira(1);  // does not come along
  EXPECT_EQ(Deliver(RunOfMira(2)), "");
  EXPECT_EQ(store_->point().arrivals, 1U);
  EXPECT_TRUE(MayBring(bringer_, kAllowanceBytes));
}

}  // namespace
}  // namespace broodpact::server
