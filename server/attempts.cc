#include "server/attempts.h"

#include <algorithm>

#include "client/base/status.h"

namespace broodpact::server {

absl::Status Attempts::CheckOpen(std::int64_t now_ms) {
  const std::lock_guard lock(mutex_);
  Refill(now_ms);
  if (tries_left_ > 0) return absl::OkStatus();
  return Fail(absl::StatusCode::kResourceExhausted, "TOO_MANY_TRIES",
              "too many wrong codes were tried here; wait a minute and try again");
}

void Attempts::CountFailure(std::int64_t now_ms) {
  const std::lock_guard lock(mutex_);
  Refill(now_ms);
  tries_left_ = std::max(0, tries_left_ - 1);
}

void Attempts::Refill(std::int64_t now_ms) {
  const std::int64_t more = std::max<std::int64_t>(0, (now_ms - refilled_ms_) / kTryMillis);
  if (more >= kTriesMax - tries_left_) {
    tries_left_ = kTriesMax;
    refilled_ms_ = now_ms;
  } else {
    tries_left_ += static_cast<int>(more);
    refilled_ms_ += more * kTryMillis;
  }
}

}  // namespace broodpact::server
