#pragma once

// How often strangers may be wrong: a bucket of tries that fills slowly, so that whoever guesses
// costs little. Secrets of 16 random bytes are not guessed at any speed; so an empty bucket holds
// up those who are wrong, and nobody who can be told cheaply to be right: else any stranger could
// keep everybody out by guessing.

#include <cstdint>
#include <mutex>

#include "absl/status/status.h"

namespace broodpact::server {

inline constexpr int kTriesMax = 20;
inline constexpr std::int64_t kTryMillis = 3'000;  // one more try each

// Thread-safe.
class Attempts {
 public:
  // Whether one more try may be made by who is not known to be right.
  // Errors: RESOURCE_EXHAUSTED with reason TOO_MANY_TRIES.
  absl::Status CheckOpen(std::int64_t now_ms);

  // A try was wrong.
  void CountFailure(std::int64_t now_ms);

 private:
  void Refill(std::int64_t now_ms);

  std::mutex mutex_;  // guards all below
  int tries_left_ = kTriesMax;
  std::int64_t refilled_ms_ = 0;
};

}  // namespace broodpact::server
