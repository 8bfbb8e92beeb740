#include "client/device/clock.h"

#include <chrono>
#include <ctime>

#include "client/base/check.h"

namespace broodpact::device {
namespace {

class MachineClock final : public Clock {
 public:
  std::int64_t NowMillis() const override {
    return std::chrono::duration_cast<std::chrono::milliseconds>(
               std::chrono::system_clock::now().time_since_epoch())
        .count();
  }

  Day Today() const override {
    const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
    std::tm wall{};
    BP_CHECK(localtime_r(&now, &wall) != nullptr);
    // The wall's date, read as if the wall were in UTC: a civil day has no zone.
    wall.tm_isdst = 0;
    return DayOfMillis(std::int64_t{timegm(&wall)} * 1000);
  }
};

}  // namespace

const Clock& SystemClock() {
  static const MachineClock clock;
  return clock;
}

}  // namespace broodpact::device
