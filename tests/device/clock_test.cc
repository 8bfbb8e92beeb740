// Goal: the machine's clock says the machine's time. Method: compare with the C library, in time
// zones far from UTC.

#include "client/device/clock.h"

#include <cstdlib>
#include <ctime>
#include <string>

#include <gtest/gtest.h>

namespace broodpact::device {
namespace {

// The date on the wall, as the C library writes it.
std::string WallDate() {
  const std::time_t now = std::time(nullptr);
  std::tm wall{};
  localtime_r(&now, &wall);
  std::string text(10, '\0');
  std::strftime(text.data(), text.size() + 1, "%Y-%m-%d", &wall);
  return text;
}

TEST(Clock, CountsMillisecondsSinceTheEpoch) {
  const std::int64_t before = std::int64_t{std::time(nullptr)} * 1000;
  const std::int64_t now = SystemClock().NowMillis();
  EXPECT_GE(now, before);
  EXPECT_LE(now, before + 60'000);
}

// Kiritimati and Pago Pago are 25 hours apart: they never have the same day.
TEST(Clock, SaysTheDayOnTheWall) {
  std::string days;
  for (const char* zone : {"<+14>-14", "<-11>11"}) {
    // NOLINTNEXTLINE(concurrency-mt-unsafe): the only thread of this program.
    ASSERT_EQ(setenv("TZ", zone, 1), 0);
    tzset();
    const std::string before = WallDate();
    const std::string today = ToText(SystemClock().Today());
    EXPECT_TRUE(today == before || today == WallDate()) << today;
    EXPECT_NE(today, days);
    days = today;
  }
}

}  // namespace
}  // namespace broodpact::device
