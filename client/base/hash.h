#pragma once

// SHA-256 (FIPS 180-4), by OpenSSL.

#include <array>
#include <cstdint>
#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>

#include "client/base/id.h"

namespace broodpact {

using Hash = std::array<std::uint8_t, 32>;

// The SHA-256 of `bytes`.
Hash Sha256(std::string_view bytes);

// The SHA-256 of the parts, one after the other.
Hash Sha256(std::initializer_list<std::string_view> parts);

// `hash` as a view of its 32 bytes. Lives as long as `hash`.
inline std::string_view ViewOf(const Hash& hash) {
  return {reinterpret_cast<const char*>(hash.data()), hash.size()};
}

// Takes 32 bytes as they are. Nothing if `bytes` has another length.
std::optional<Hash> HashOfBytes(std::string_view bytes);

// 64 lower-case hexadecimal digits.
std::string ToHex(const Hash& hash);

// Lower-case hexadecimal digits, two a byte.
std::string BytesToHex(std::string_view bytes);

// Reads hexadecimal digits of either case. Nothing if `text` is not pairs of them.
std::optional<std::string> HexToBytes(std::string_view text);

// First 16 bytes of `hash`, as the id of some kind.
template <typename AnyId>
AnyId FirstHalf(const Hash& hash) {
  AnyId id;
  for (std::size_t i = 0; i < id.bytes.size(); ++i) id.bytes[i] = hash[i];
  return id;
}

}  // namespace broodpact
