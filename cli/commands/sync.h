#pragma once

// broodpact sync: exchange with the server, once or for as long as it is wanted.

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"
#include "client/replica/replica.h"

namespace broodpact::cli {

struct SyncOptions {
  bool follow = false;
};

// With `follow`, SIGINT and SIGTERM end it cleanly, and the result is OK.
absl::Status RunSync(const Desk& desk, const SyncOptions& options);

// Says what a sync did, and what was done about a loss of the server's and is not told yet.
absl::Status PresentSynced(const Desk& desk, replica::Replica& replica,
                           const replica::Synced& synced);

void AddSyncCommand(Command& root);

}  // namespace broodpact::cli
