#include "server/options.h"

#include <CLI/CLI.hpp>

namespace broodpact::server {
namespace {

constexpr int kExitUsage = 2;

}  // namespace

std::optional<CommandLine> ParseCommandLine(int argc, char** argv, int& exit_code) {
  CommandLine line;
  std::string folder;
  std::string level = "info";
  CLI::App app(
      "Keep the arrival log of a cooperative, and serve it to the cooperative's keepers\n\n"
      "The first start makes the folder, the server's keys and a code. Whoever founded a\n"
      "cooperative claims the server with it: broodpact join CODE",
      "broodpact-server");
  app.add_option("--data", folder, "Folder of the server; made at the first start")->required();
  app.add_option("--listen", line.server.listen,
                 "Address to listen on, as host:port; port 0 takes any that is free "
                 "(default: 0.0.0.0:7443)");
  app.add_option("--name", line.server.hosts,
                 "Host name or IP address that keepers reach the server by; may be given more than "
                 "once, and the first one goes into the codes");
  app.add_option("--snapshot-every", line.server.snapshot_arrivals,
                 "Arrivals from one snapshot of the state to the next, which new devices start "
                 "from; 0 writes none (default: 10000)");
  app.add_option("--log-level", level, "What to log: debug, info, warn or error (default: info)")
      ->check(CLI::IsMember({"debug", "info", "warn", "error"}));
  app.set_version_flag("--version", "broodpact-server " BROODPACT_VERSION);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    exit_code = app.exit(error) == 0 ? 0 : kExitUsage;
    return std::nullopt;
  }
  line.server.folder = folder;
  line.level = ParseLevel(level).value_or(Level::kInfo);
  return line;
}

}  // namespace broodpact::server
