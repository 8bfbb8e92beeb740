#pragma once

// Nonces that need not be remembered: 8 bytes time, 8 random bytes, and an HMAC-SHA256 over both
// with a key of this process. Good for a minute; what is signed over one names the key that it is
// for, so to use it twice gains nothing.

#include <cstdint>
#include <string>
#include <string_view>

#include "client/device/random.h"

namespace broodpact::server {

inline constexpr std::size_t kNonceSize = 48;
inline constexpr std::int64_t kNonceMillis = 60'000;

// Thread-safe.
class Nonces {
 public:
  // `randomness` outlives the nonces.
  explicit Nonces(device::Randomness& randomness);

  std::string Make(std::int64_t now_ms) const;

  // Whether `nonce` was made here, at most a minute ago.
  bool IsFresh(std::string_view nonce, std::int64_t now_ms) const;

 private:
  std::string Seal(std::string_view body) const;

  device::Randomness& randomness_;
  std::string key_;
};

}  // namespace broodpact::server
