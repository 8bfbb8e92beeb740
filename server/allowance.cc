#include "server/allowance.h"

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::server {
namespace {

// Buckets that are kept. Beyond them the full ones are forgotten, which loses nothing.
constexpr std::size_t kBucketsMax = 10'000;

}  // namespace

absl::Status Allowance::Take(const DeviceId& device, std::int64_t bytes, std::int64_t now_ms) {
  const std::lock_guard lock(mutex_);
  if (buckets_.size() > kBucketsMax) {
    std::erase_if(buckets_, [&](const auto& each) {
      return Filled(each.second, now_ms).bytes == kAllowanceBytes;
    });
  }
  Bucket& bucket = buckets_.try_emplace(device, Bucket{.filled_ms = now_ms}).first->second;
  bucket = Filled(bucket, now_ms);
  if (bucket.bytes >= bytes) {
    bucket.bytes -= bytes;
    return absl::OkStatus();
  }
  const std::int64_t seconds = (bytes - bucket.bytes) / kAllowanceBytesPerSecond + 1;
  return Fail(absl::StatusCode::kResourceExhausted, "PUSHED_TOO_MUCH",
              fmt::format("this device has brought more than the server takes at a time; the rest "
                          "is kept here, sync again in {} minutes",
                          seconds / 60 + 1));
}

void Allowance::PutBack(const DeviceId& device, std::int64_t bytes) {
  const std::lock_guard lock(mutex_);
  const auto found = buckets_.find(device);
  if (found == buckets_.end()) return;  // it was full, and forgotten
  found->second.bytes = std::min(kAllowanceBytes, found->second.bytes + bytes);
}

Allowance::Bucket Allowance::Filled(const Bucket& bucket, std::int64_t now_ms) {
  const std::int64_t seconds = std::max<std::int64_t>(0, (now_ms - bucket.filled_ms) / 1'000);
  if (seconds >= (kAllowanceBytes - bucket.bytes) / kAllowanceBytesPerSecond + 1) {
    return {.bytes = kAllowanceBytes, .filled_ms = now_ms};
  }
  return {.bytes = std::min(kAllowanceBytes, bucket.bytes + seconds * kAllowanceBytesPerSecond),
          .filled_ms = bucket.filled_ms + seconds * 1'000};
}

}  // namespace broodpact::server
