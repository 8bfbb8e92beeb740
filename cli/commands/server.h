#pragma once

// broodpact server: another server in place of the one that is gone.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct TakeServerOptions {
  std::string code{};
};
struct NameServerOptions {};
struct MoveServerOptions {
  std::string code{};
};
struct ServerCodesOptions {};
struct VouchServerOptions {
  std::string code{};
};

absl::Status RunTakeServer(const Desk& desk, const TakeServerOptions& options);
absl::Status RunNameServer(const Desk& desk, const NameServerOptions& options);
absl::Status RunMoveServer(const Desk& desk, const MoveServerOptions& options);
absl::Status RunServerCodes(const Desk& desk, const ServerCodesOptions& options);
absl::Status RunVouchServer(const Desk& desk, const VouchServerOptions& options);

void AddServerCommands(Command& root);

}  // namespace broodpact::cli
