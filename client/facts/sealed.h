#pragma once

// What can be stated about sealed text: keys to seal to, notes, and envelopes for further devices.
// Values within their bounds, as statement.h says. What is in an envelope is no matter here
// (device/seal.h).

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "client/base/day.h"
#include "client/base/id.h"

namespace broodpact::facts {

inline constexpr std::size_t kEnvelopeBytesMax = 7'220;  // as device::kSealedBytesMax
inline constexpr int kNotesReplacedMax = 16;
inline constexpr int kReadersMax = 16;

enum class SealedSubject : std::uint8_t {
  kUnspecified = 0,
  kAnimal = 1,
  kGroup = 2,
  kKeeper = 3,
  kLoan = 4,
  kClutch = 5
};
enum class SealedField : std::uint8_t {
  kUnspecified = 0,
  kLocality = 1,
  kAddress = 2,
  kPrice = 3,
  kNote = 4
};

// The 32 bytes of an X25519 public key. Whether it is a proper one turns out when it is sealed to.
using SealingKeyBytes = std::array<std::uint8_t, 32>;

struct SealingKeyEntry {
  SealingKeyBytes key{};

  friend bool operator==(const SealingKeyEntry&, const SealingKeyEntry&) = default;
};
struct SealedEntry {
  SealedNoteId note{};
  SealedSubject kind = SealedSubject::kUnspecified;
  IdBytes subject{};
  SealedField field = SealedField::kUnspecified;
  std::string sealed{};  // the envelope; empty: what it replaces is taken back
  std::vector<SealedNoteId> replaced{};
  std::vector<KeeperId> readers{};  // beside the author
  std::optional<Day> until{};

  friend bool operator==(const SealedEntry&, const SealedEntry&) = default;
};
struct Resealing {
  SealedNoteId note{};
  Token copy_token{};  // of the envelope that it was made from
  std::string sealed{};

  friend bool operator==(const Resealing&, const Resealing&) = default;
};

}  // namespace broodpact::facts
