#pragma once

// The command line of the server.

#include <optional>
#include <string>

#include "server/log.h"
#include "server/server.h"

namespace broodpact::server {

struct CommandLine {
  ServerOptions server;
  Level level = Level::kInfo;
};

// Reads the command line. If there is nothing to run (help, version, a mistake), it has said why,
// and `exit_code` is what to exit with: 0 or 2.
std::optional<CommandLine> ParseCommandLine(int argc, char** argv, int& exit_code);

}  // namespace broodpact::server
