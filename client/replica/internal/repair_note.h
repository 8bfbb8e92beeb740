#pragma once

// What was done about losses of the server's and nobody has been told yet: kept in the database, so
// that a program that is killed in between tells it the next time.

#include <optional>

#include "absl/status/statusor.h"

#include "client/replica/replica.h"
#include "client/store/store.h"

namespace broodpact::replica {

// The small value in the store that has it.
inline constexpr char kMetaRepair[] = "repair";

absl::StatusOr<std::optional<Repair>> ReadRepair(const store::Store& database);
// Adds to what is kept.
absl::Status KeepRepair(store::Store& database, const Repair& repair);
absl::Status DropRepair(store::Store& database);

}  // namespace broodpact::replica
