#pragma once

// AES-256-GCM (NIST SP 800-38D, Dworkin, 2007), by OpenSSL: encryption that notices any change.

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "client/device/secret_bytes.h"

namespace broodpact::device {

// What must never be the same for two texts of one key. Zeros are right where a key has one text.
using GcmNonce = std::array<std::uint8_t, 12>;

// Bytes that encryption adds.
inline constexpr std::size_t kGcmTagBytes = 16;

// `text` encrypted, with its tag behind it. The tag vouches for `associated` too, which stays
// outside. Both up to 2^31 - 1 bytes.
std::string EncryptGcm(const SecretBytes& key, const GcmNonce& nonce, std::string_view associated,
                       std::string_view text);

// The text again. Nothing if key, nonce, `associated` or any bit of `encrypted` is another; no byte
// of what it would have been is left in memory then. The caller wipes the text.
std::optional<std::string> DecryptGcm(const SecretBytes& key, const GcmNonce& nonce,
                                      std::string_view associated, std::string_view encrypted);

}  // namespace broodpact::device
