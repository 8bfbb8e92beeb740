#pragma once

// The form of a sealed text: bytes to parts and back, without any key.
//
//   envelope  = version wraps text mac
//   version   = varint, 1
//   wraps     = varint(count), 1 .. 64, then as many of, by recipient in ascending order:
//     recipient = 16 bytes, SealingKeyId
//     ephemeral = 32 bytes, the X25519 public key of this wrap alone
//     content   = 48 bytes, the content key encrypted, with its tag
//   text      = varint(length), then the padded text encrypted, with its tag: 144, 272, 528 or
//   1,040 mac       = 32 bytes, HMAC-SHA-256 of all before it
//
// The largest is 7,220 bytes. One form only: what parses is what Encode writes.
//
// Pure.

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/device/internal/x25519.h"
#include "client/device/sealing_key.h"

namespace broodpact::device {

inline constexpr std::uint64_t kSealVersion = 1;

// The content key, as it lies in a wrap.
using WrappedContent = std::array<std::uint8_t, 48>;

// The content key for one recipient.
struct Wrap {
  SealingKeyId recipient{};
  X25519Point ephemeral{};
  WrappedContent content{};
};

struct Envelope {
  std::vector<Wrap> wraps{};
  std::string text{};
  Hash mac{};
};

// All of an envelope that its MAC vouches for. `wraps` are in ascending order, no two for one
// recipient.
std::string EncodeBody(const Envelope& envelope);

std::string EncodeEnvelope(const Envelope& envelope);

// Errors, in this order: INVALID_ARGUMENT with reason SEAL_FORM (too long, cut short, no form that
// is written); FAILED_PRECONDITION with reason SEAL_NEWER (a later version wrote it).
absl::StatusOr<Envelope> ParseEnvelope(std::string_view bytes);

// `text` with its length before it and zeros behind it, up to 128, 256, 512 or 1,024 bytes: a
// length tells one of four. `text` has at most kSealedTextBytesMax bytes.
std::string Pad(std::string_view text);

// The text again, as a view of `padded`. Nothing if Pad does not write that.
std::optional<std::string_view> Unpad(std::string_view padded);

}  // namespace broodpact::device
