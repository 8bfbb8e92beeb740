#pragma once

// broodpact status: who and where this replica is, and what waits for its keeper.

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct StatusOptions {};

absl::Status RunStatus(const Desk& desk, const StatusOptions& options);

void AddStatusCommand(Command& root);

}  // namespace broodpact::cli
