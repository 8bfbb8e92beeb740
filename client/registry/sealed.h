#pragma once

// What the fold knows of sealed text: the keys of devices, and envelopes. Nothing here opens one.
//
// Order of members is the order of the encoding (encode.h).

#include <optional>
#include <string>
#include <vector>

#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/facts/sealed.h"
#include "client/registry/member.h"

namespace broodpact::registry {

// The key to which others seal what a device may read. A subject of its own, under the id of the
// device.
struct SealingKey {
  static constexpr Kind kKind = Kind::kSealingKey;
  DeviceId id{};
  facts::SealingKeyBytes key{};
  Entry entry{};  // of the latest

  friend bool operator==(const SealingKey&, const SealingKey&) = default;
};

// The envelope of one keeper's devices.
struct SealedCopy {
  KeeperId keeper{};
  Token token{};  // of the commit that brought it
  std::string sealed{};

  friend bool operator==(const SealedCopy&, const SealedCopy&) = default;
};

enum class NoteState : std::uint8_t { kStanding = 1, kReplaced = 2, kTakenBack = 3 };

struct SealedNote {
  static constexpr Kind kKind = Kind::kSealedNote;
  SealedNoteId id{};
  facts::SealedSubject subject_kind = facts::SealedSubject::kAnimal;
  IdBytes subject{};
  facts::SealedField field = facts::SealedField::kNote;
  KeeperId keeper{};                // who wrote it
  std::vector<KeeperId> readers{};  // whom it is for, beside its author
  std::optional<Day> until{};       // the last day on which it is shown
  // The author's first, then those of readers, in order of arrival. None of one that does not
  // stand.
  std::vector<SealedCopy> copies{};
  NoteState state = NoteState::kStanding;
  bool concurrent = false;  // what it replaces was replaced already
  Entry ended{};            // by what it does not stand any more
  Entry entry{};

  friend bool operator==(const SealedNote&, const SealedNote&) = default;
};

// The kind of its subject.
constexpr Kind KindOf(facts::SealedSubject subject) {
  switch (subject) {
    case facts::SealedSubject::kUnspecified:
      break;
    case facts::SealedSubject::kAnimal:
      return Kind::kAnimal;
    case facts::SealedSubject::kGroup:
      return Kind::kGroup;
    case facts::SealedSubject::kKeeper:
      return Kind::kKeeper;
    case facts::SealedSubject::kLoan:
      return Kind::kLoan;
    case facts::SealedSubject::kClutch:
      return Kind::kClutch;
  }
  return Kind::kCooperative;
}

// Whether it is for this keeper: who wrote it, or one of its readers.
bool IsFor(const SealedNote& note, const KeeperId& keeper);

// The envelope of a keeper whom the note is for: its own, else the author's. nullptr: none.
const SealedCopy* CopyFor(const SealedNote& note, const KeeperId& keeper);

}  // namespace broodpact::registry
