#pragma once

// Keys out of a secret, and a keyed hash: HKDF and HMAC over SHA-256, by OpenSSL.

#include <cstdint>
#include <span>
#include <string_view>

#include "client/base/hash.h"
#include "client/device/secret_bytes.h"

namespace broodpact::device {

// HKDF-SHA-256, extract and expand (RFC 5869, Krawczyk & Eronen, 2010): fills `out`, at most 8,160
// bytes, from `secret`, which is not empty. `info` says what the key is for: two that differ give
// keys that have nothing to do with each other.
void Hkdf(std::string_view secret, std::string_view salt, std::string_view info,
          std::span<std::uint8_t> out);

// The key that Hkdf gives.
SecretBytes DeriveKey(const SecretBytes& secret, std::string_view salt, std::string_view info);

// HMAC-SHA-256 (RFC 2104, Krawczyk, Bellare & Canetti, 1997). `key` is not empty.
Hash Hmac(std::string_view key, std::string_view message);

// Whether two keyed hashes are equal, in a time that does not depend on where they differ.
bool IsSameMac(const Hash& a, const Hash& b);

}  // namespace broodpact::device
