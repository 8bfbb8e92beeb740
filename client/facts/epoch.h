#pragma once

// What a server says when it has lost a part of its log: that heads of earlier epochs hold up to a
// common place, and no further.

#include <cstdint>
#include <string>

#include "client/facts/arrival.h"

namespace broodpact::facts {

// The first epoch of every log. It has no beginning of its own to be signed.
inline constexpr std::uint32_t kFirstEpoch = 1;

// The last one that there may be. Whoever signs a head of a later one means no good: the epochs
// after it would run out of numbers.
inline constexpr std::uint32_t kLastEpoch = 0x7FFF'FFFF;

struct EpochClaim {
  std::uint32_t epoch = 0;          // above kFirstEpoch
  LogPoint common{};                // the last place that the log shares with the one that was lost
  std::uint64_t lost_arrivals = 0;  // of the head that told the server of its loss
  std::int64_t time_ms = 0;

  friend bool operator==(const EpochClaim&, const EpochClaim&) = default;
};

// The bytes that a server signs for it (see EpochStart in sync_service.proto).
std::string EpochMessage(const Hash& cooperative, const EpochClaim& claim);

}  // namespace broodpact::facts
