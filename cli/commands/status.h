#pragma once

// broodpact status, heads: who and where this replica is, what waits for its keeper, and what the
// server has signed.

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct StatusOptions {};
struct HeadsOptions {};

absl::Status RunStatus(const Desk& desk, const StatusOptions& options);
// Errors: that of the first doubt, which is printed all the same.
absl::Status RunHeads(const Desk& desk, const HeadsOptions& options);

void AddStatusCommand(Command& root);

}  // namespace broodpact::cli
