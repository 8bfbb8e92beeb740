// broodpact-server: flags, signals, and the server between them.

#include <csignal>
#include <iostream>

#include <fmt/format.h>
#include <grpc/support/log.h>

#include "client/base/status.h"
#include "client/device/clock.h"
#include "client/device/random.h"
#include "server/log.h"
#include "server/options.h"
#include "server/server.h"
#include <pthread.h>

namespace broodpact::server {
namespace {

// Why a handshake failed is said by gRPC alone: its words become lines of the log.
void LogOfGrpc(gpr_log_func_args* args) {
  const Log log(std::cerr, Level::kInfo, device::SystemClock());
  log.Write(args->severity == GPR_LOG_SEVERITY_ERROR ? Level::kWarn : Level::kInfo, "grpc",
            {{"message", args->message}});
}

// SIGTERM and SIGINT, for sigwait: blocked in this thread and all that it starts.
sigset_t BlockStopSignals() {
  sigset_t signals;
  sigemptyset(&signals);
  sigaddset(&signals, SIGTERM);
  sigaddset(&signals, SIGINT);
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  return signals;
}

int Serve(const CommandLine& line) {
  const sigset_t signals = BlockStopSignals();
  std::signal(SIGXFSZ, SIG_IGN);  // a file that may not grow is an error like a full disk
  gpr_set_log_function(&LogOfGrpc);
  const Log log(std::cerr, line.level, device::SystemClock());
  const absl::StatusOr<std::unique_ptr<Server>> server = Server::Start(
      line.server,
      {.clock = device::SystemClock(), .randomness = device::SystemRandomness(), .log = log});
  if (!server.ok()) {
    std::cerr << fmt::format("broodpact-server: {}\n", std::string(server.status().message()));
    return ReasonOf(server.status()) == "REPLICA_BUSY" ? 7 : 1;
  }
  if (const std::optional<std::string> code = (*server)->claim_code()) {
    std::cout << "Nobody has claimed this server yet. Whoever founded a cooperative does it with\n"
              << "  broodpact join " << *code << std::endl;
  }
  int signal = 0;
  sigwait(&signals, &signal);
  (*server)->Stop();
  return 0;
}

}  // namespace
}  // namespace broodpact::server

int main(int argc, char** argv) {
  int exit_code = 0;
  const std::optional<broodpact::server::CommandLine> line =
      broodpact::server::ParseCommandLine(argc, argv, exit_code);
  return line.has_value() ? broodpact::server::Serve(*line) : exit_code;
}
