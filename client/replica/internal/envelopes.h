#pragma once

// Envelopes as this home opens and makes them: its sealing keys, the place that a note is sealed
// for, and the keys of those who may read.

#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/device/seal.h"
#include "client/registry/sealed.h"
#include "client/registry/state.h"
#include "client/replica/replica.h"

namespace broodpact::replica {

// The sealing keys of this home: of every device that it was. Empty: none is made yet.
// Errors: those of device::SealingKey::Load.
absl::StatusOr<std::vector<device::SealingKey>> SealingKeysOf(const Replica& replica);

// The one of the present device, made if there is none yet.
// Errors: those of device::SealingKey.
absl::StatusOr<device::SealingKey> OwnSealingKey(const Replica& replica);

// What a note is sealed for: nobody can pass it off as another note, or as his own.
device::SealedPlace SealedPlaceOf(const Hash& cooperative, const registry::SealedNote& note);

// The keys to seal to for a keeper: of its devices that may write now and have stated a proper one.
// Errors: those of the source.
absl::StatusOr<std::vector<device::SealingPublicKey>> SealingKeysOfKeeper(
    const registry::Source& source, const KeeperId& keeper);

// An envelope and the key of this home that opens it.
struct Opener {
  const registry::SealedCopy* copy = nullptr;
  const device::SealingKey* key = nullptr;
};

// Which envelopes of a note a key of this home is a recipient of, by what they say themselves: that
// of the keeper's own devices first, then the author's. Valid as long as note and keys are.
std::vector<Opener> OpenersOf(const registry::SealedNote& note, const KeeperId& self,
                              const std::vector<device::SealingKey>& keys);

// The text of a note. Errors: PERMISSION_DENIED with reason NOT_RECIPIENT; those of OpenSealed.
absl::StatusOr<std::string> TextOf(const Replica& replica, const registry::SealedNote& note,
                                   const std::vector<device::SealingKey>& keys);

// The standing notes behind an index prefix, at most kNotesMax.
// Errors: those of the source.
absl::StatusOr<std::vector<registry::SealedNote>> NotesBehind(const registry::Source& source,
                                                              const std::string& prefix);

// The notes that are written by a keeper about one field of a subject, of those given.
std::vector<registry::SealedNote> OwnNotes(std::vector<registry::SealedNote> notes,
                                           const KeeperId& self, facts::SealedField field);

// Whether its last day is past.
bool IsEnded(const registry::SealedNote& note, Day today);

}  // namespace broodpact::replica
