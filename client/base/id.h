#pragma once

// Names for things: 16 bytes, one C++ type per kind of thing, so that an animal cannot be passed
// where a keeper is meant.

#include <array>
#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace broodpact {

using IdBytes = std::array<std::uint8_t, 16>;

// Ids are compared and stored as bytes, most significant first. A default Id is all zeros and
// names nothing.
template <typename Kind>
struct Id {
  IdBytes bytes{};

  // Whether this names nothing.
  bool empty() const { return bytes == IdBytes{}; }

  friend auto operator<=>(const Id&, const Id&) = default;
};

using KeeperId = Id<struct KeeperKind>;
using DeviceId = Id<struct DeviceKind>;  // first 16 bytes of SHA-256 of the public key
using InviteId = Id<struct InviteKind>;  // first 16 bytes of SHA-256 of the invite's public key
using GroupId = Id<struct GroupKind>;
using AnimalId = Id<struct AnimalKind>;
using LoanId = Id<struct LoanKind>;
using PairingId = Id<struct PairingKind>;
using ClutchId = Id<struct ClutchKind>;
using LotId = Id<struct LotKind>;
using ClashId = Id<struct ClashKind>;
using VetoId = Id<struct VetoKind>;
using WantId = Id<struct WantKind>;
using MotionId = Id<struct MotionKind>;
using LeaseId = Id<struct LeaseKind>;
using SealedNoteId = Id<struct SealedNoteKind>;

// What a statement spends: the first 16 bytes of the hash of the commit that made it. Zeros name
// nothing.
using Token = Id<struct TokenKind>;

// Characters of an id as text.
inline constexpr std::size_t kIdTextSize = 26;
// Characters of an id as people are shown it: enough to be told apart, short enough to type.
inline constexpr std::size_t kIdShortSize = 8;

// The text form: 26 characters of lower-case base32 (RFC 4648, without padding).
std::string IdText(const IdBytes& id);

// Reads the text form, in either case. Nothing if `text` is not 26 characters of base32.
std::optional<IdBytes> ParseIdText(std::string_view text);

// Takes 16 bytes as they are. Nothing if `bytes` has another length.
std::optional<IdBytes> IdOfBytes(std::string_view bytes);

// `id` as a view of its 16 bytes. Lives as long as `id`.
inline std::string_view ViewOf(const IdBytes& id) {
  return {reinterpret_cast<const char*>(id.data()), id.size()};
}

template <typename Kind>
std::string ToText(const Id<Kind>& id) {
  return IdText(id.bytes);
}

template <typename Kind>
std::string ToShortText(const Id<Kind>& id) {
  return IdText(id.bytes).substr(0, kIdShortSize);
}

}  // namespace broodpact
