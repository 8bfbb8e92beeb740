#pragma once

// What a keeper states about sealed text: notes that only some can read, and who else may. Errors
// as in acts_animal.h.
//
// Who has read a text knows it for good: taking it back, or its last day, end that it is shown.

#include <optional>
#include <string>
#include <vector>

#include "client/replica/acting.h"

namespace broodpact::replica {

// Which field of which subject.
struct SealedAt {
  facts::SealedSubject kind = facts::SealedSubject::kAnimal;
  IdBytes subject{};
  facts::SealedField field = facts::SealedField::kNote;
};

// Whom a note is for, beside the own devices, and how long it is shown.
struct Audience {
  std::vector<KeeperId> readers{};
  std::optional<Day> until{};
};

// Writes the text, in the place of all that this keeper wrote there before: sealed to the keeper's
// own devices and those of the readers, as far as they are not cut off. A price of a loan is for
// its parties, whoever else is named.
// Errors: INVALID_ARGUMENT with reason TEXT_EMPTY, DATE_PAST or READER_ITSELF; FAILED_PRECONDITION
// with reason READER_WITHOUT_KEY (none of its devices has stated a key yet); those of device::Seal.
absl::StatusOr<Made<SealedNoteId>> WriteSealed(Replica& replica, const SealedAt& at,
                                               const std::string& text, const Audience& audience);

// Seals what this keeper wrote there to readers as well, in a note of their own: in the place of an
// earlier one for the same readers.
// Errors: as WriteSealed; ALREADY_EXISTS with reason ALREADY_SHARED (that text, to these readers,
// for as long); NOT_FOUND with reason NO_NOTE (nothing of this keeper's opens there);
// FAILED_PRECONDITION with reason NOTE_CONCURRENT (it wrote two: write it anew first).
absl::StatusOr<Made<SealedNoteId>> ShareSealed(Replica& replica, const SealedAt& at,
                                               const Audience& audience);

// Takes back all that this keeper wrote there.
// Errors: NOT_FOUND with reason NO_NOTE.
absl::StatusOr<Acted> TakeSealedBack(Replica& replica, const SealedAt& at);

}  // namespace broodpact::replica
