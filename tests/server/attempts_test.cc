// Goal: wrong tries run out, and come back slowly; right ones cost nothing. Method: a clock by
// hand.

#include "server/attempts.h"

#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact::server {
namespace {

constexpr std::int64_t kNow = 1'800'000'000'000;

TEST(Attempts, RunOutAfterSoManyFailures) {
  Attempts attempts;
  for (int i = 0; i < kTriesMax; ++i) {
    ASSERT_TRUE(attempts.CheckOpen(kNow).ok()) << i;
    attempts.CountFailure(kNow);
  }
  EXPECT_EQ(ReasonOf(attempts.CheckOpen(kNow)), "TOO_MANY_TRIES");
}

TEST(Attempts, ComeBackOneByOne) {
  Attempts attempts;
  for (int i = 0; i < kTriesMax; ++i) attempts.CountFailure(kNow);
  EXPECT_FALSE(attempts.CheckOpen(kNow + kTryMillis - 1).ok());
  EXPECT_TRUE(attempts.CheckOpen(kNow + kTryMillis).ok());
  attempts.CountFailure(kNow + kTryMillis);
  EXPECT_FALSE(attempts.CheckOpen(kNow + kTryMillis).ok());
  // After a long time there are as many as at first, and no more.
  const std::int64_t later = kNow + 1'000 * kTryMillis;
  for (int i = 0; i < kTriesMax; ++i) {
    EXPECT_TRUE(attempts.CheckOpen(later).ok());
    attempts.CountFailure(later);
  }
  EXPECT_FALSE(attempts.CheckOpen(later).ok());
}

TEST(Attempts, AreNotGivenByAClockThatGoesBack) {
  Attempts attempts;
  for (int i = 0; i < kTriesMax; ++i) attempts.CountFailure(kNow);
  EXPECT_FALSE(attempts.CheckOpen(kNow - 1'000 * kTryMillis).ok());
}

TEST(Attempts, ThatWereRightCostNothing) {
  Attempts attempts;
  for (int i = 0; i < 10 * kTriesMax; ++i) EXPECT_TRUE(attempts.CheckOpen(kNow).ok());
}

}  // namespace
}  // namespace broodpact::server
