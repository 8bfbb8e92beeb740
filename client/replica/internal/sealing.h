#pragma once

// Statements about sealed text, made by this replica: what acts and care share.

#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/registry/sealed.h"
#include "client/replica/acts_sealed.h"

namespace broodpact::replica {

// A fresh note: the text, sealed to this keeper's devices and those of the readers.
// Errors: FAILED_PRECONDITION with reason READER_WITHOUT_KEY; those of device::Seal and of the
// source.
absl::StatusOr<facts::SealedEntry> SealedEntryOf(const Replica& replica, const SealedAt& at,
                                                 const std::string& text, const Audience& audience);

// Statements that take notes back, all about one field of a subject.
std::vector<facts::Statement> TakingBack(const Replica& replica, const SealedAt& at,
                                         const std::vector<SealedNoteId>& notes);

// The text of own notes about one field of a subject that is to be sealed to others: of those for
// nobody else, else of all. Nothing where none opens.
// Errors: FAILED_PRECONDITION with reason NOTE_CONCURRENT where they differ.
absl::StatusOr<std::optional<std::string>> TextToShare(
    const Replica& replica, const std::vector<registry::SealedNote>& own);

std::vector<SealedNoteId> IdsOf(const std::vector<registry::SealedNote>& notes);

}  // namespace broodpact::replica
