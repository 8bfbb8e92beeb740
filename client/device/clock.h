#pragma once

// The time of this machine, as a parameter: what runs on a simulated clock runs on this too.

#include <cstdint>

#include "client/base/day.h"

namespace broodpact::device {

class Clock {
 public:
  virtual ~Clock() = default;
  // Milliseconds since 1970-01-01 UTC.
  virtual std::int64_t NowMillis() const = 0;
  // The day on the wall, in the machine's time zone.
  virtual Day Today() const = 0;
};

// The system's clock. Thread-safe.
const Clock& SystemClock();

}  // namespace broodpact::device
