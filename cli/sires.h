#pragma once

// Possible sires that an entry moves: a moult that is entered late cuts the time between pairings
// and sacs anew, and with it who is owed a share.

#include <map>
#include <string>

#include "absl/status/statusor.h"

#include "cli/desk.h"
#include "client/replica/replica.h"

namespace broodpact::cli {

// The names of the possible sires, "none known" where there are none, by the clutch's name.
using SiresByClutch = std::map<std::string, std::string>;

// Those of what a female has laid; empty for any other animal. Errors: those of the view.
absl::StatusOr<SiresByClutch> SiresOf(const replica::Replica& replica, const AnimalId& female);

// Notes on the messages each clutch whose possible sires are others than before.
void NoteSires(const Desk& desk, const SiresByClutch& before, const SiresByClutch& now);

}  // namespace broodpact::cli
