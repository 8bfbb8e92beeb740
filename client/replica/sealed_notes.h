#pragma once

// Sealed notes as this device reads them, for people: their texts where they are for it and not
// past their last day, and of the others only that they are there.

#include <optional>

#include "absl/status/statusor.h"

#include "broodpact/v1/registry.pb.h"
#include "client/replica/replica.h"

namespace broodpact::replica {

// Whether the texts are in the answer.
enum class Texts { kLeftOut, kShown };

// The notes that stand: about a subject, or without one those that this keeper wrote or that are
// for it. Needs the sealing keys in the folder, and neither the device's secret nor the write lock.
// Errors: those of device::SealingKey::Load and of the store.
absl::StatusOr<v1::SealedNoteList> SealedNotes(const Replica& replica,
                                               const std::optional<IdBytes>& subject, Texts texts);

}  // namespace broodpact::replica
