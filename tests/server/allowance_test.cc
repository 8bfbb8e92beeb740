// Goal: a device brings so much at once, and then so much a second; others are not held up by it.
// Method: a clock of numbers.

#include "server/allowance.h"

#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact::server {
namespace {

constexpr std::int64_t kQuiet = 1'795'597'200'000;

DeviceId DeviceNumbered(std::uint8_t n) {
  DeviceId device;
  device.bytes[0] = n;
  return device;
}

TEST(Allowance, IsOfSoManyBytesForEachDevice) {
  Allowance allowance;
  EXPECT_TRUE(allowance.Take(DeviceNumbered(1), kAllowanceBytes - 1, kQuiet).ok());
  EXPECT_TRUE(allowance.Take(DeviceNumbered(1), 1, kQuiet).ok());
  EXPECT_EQ(ReasonOf(allowance.Take(DeviceNumbered(1), 1, kQuiet)), "PUSHED_TOO_MUCH");
  EXPECT_TRUE(allowance.Take(DeviceNumbered(2), kAllowanceBytes, kQuiet).ok());
}

TEST(Allowance, FillsBySoMuchASecondAndNoFurther) {
  Allowance allowance;
  const DeviceId device = DeviceNumbered(1);
  ASSERT_TRUE(allowance.Take(device, kAllowanceBytes, kQuiet).ok());
  EXPECT_FALSE(allowance.Take(device, kAllowanceBytesPerSecond, kQuiet + 999).ok());
  EXPECT_TRUE(allowance.Take(device, kAllowanceBytesPerSecond, kQuiet + 1'000).ok());
  EXPECT_FALSE(allowance.Take(device, 1, kQuiet + 1'999).ok());
  const std::int64_t a_year = 365 * std::int64_t{86'400'000};
  EXPECT_TRUE(allowance.Take(device, kAllowanceBytes, kQuiet + a_year).ok());
  EXPECT_FALSE(allowance.Take(device, 1, kQuiet + a_year).ok());
}

TEST(Allowance, HasBackWhatIsPutBackAndNoMore) {
  Allowance allowance;
  const DeviceId device = DeviceNumbered(1);
  ASSERT_TRUE(allowance.Take(device, kAllowanceBytes, kQuiet).ok());
  allowance.PutBack(device, 5);
  EXPECT_FALSE(allowance.Take(device, 6, kQuiet).ok());
  EXPECT_TRUE(allowance.Take(device, 5, kQuiet).ok());
  allowance.PutBack(device, kAllowanceBytes);
  allowance.PutBack(device, 1);
  EXPECT_FALSE(allowance.Take(device, kAllowanceBytes + 1, kQuiet).ok());
  EXPECT_TRUE(allowance.Take(device, kAllowanceBytes, kQuiet).ok());
}

TEST(Allowance, IsNotRenewedByAClockThatGoesBack) {
  Allowance allowance;
  const DeviceId device = DeviceNumbered(1);
  ASSERT_TRUE(allowance.Take(device, kAllowanceBytes, kQuiet).ok());
  EXPECT_FALSE(allowance.Take(device, 1, kQuiet - 3'600'000).ok());
  EXPECT_FALSE(allowance.Take(device, 1, kQuiet).ok());
}

}  // namespace
}  // namespace broodpact::server
