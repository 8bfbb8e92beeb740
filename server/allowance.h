#pragma once

// How much one device may bring: a bucket of bytes that fills slowly. Whoever has a key can write
// nonsense that every member keeps for good; not at any speed. What people enter in a year fits
// into a full bucket many times.

#include <cstdint>
#include <map>
#include <mutex>

#include "absl/status/status.h"

#include "client/base/id.h"

namespace broodpact::server {

inline constexpr std::int64_t kAllowanceBytes = 134'217'728;  // of a device that was quiet for long
inline constexpr std::int64_t kAllowanceBytesPerSecond = 4'096;

// Thread-safe. In memory only: of devices that brought something lately.
class Allowance {
 public:
  // Takes so many bytes from a device's bucket.
  // Errors: RESOURCE_EXHAUSTED with reason PUSHED_TOO_MUCH, and nothing is taken.
  absl::Status Take(const DeviceId& device, std::int64_t bytes, std::int64_t now_ms);

  // Puts bytes back that were taken for what did not arrive after all.
  void PutBack(const DeviceId& device, std::int64_t bytes);

 private:
  struct Bucket {
    std::int64_t bytes = kAllowanceBytes;
    std::int64_t filled_ms = 0;
  };
  // As it is by now.
  static Bucket Filled(const Bucket& bucket, std::int64_t now_ms);

  std::mutex mutex_;  // guards all below
  std::map<DeviceId, Bucket> buckets_;
};

}  // namespace broodpact::server
