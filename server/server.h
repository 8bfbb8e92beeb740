#pragma once

// The server: a replica that listens. Composition of everything else in this folder; no logic.

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/device/clock.h"
#include "client/device/random.h"
#include "server/log.h"
#include "server/snapshots.h"

namespace broodpact::server {

struct ServerOptions {
  std::filesystem::path folder;
  std::string listen = "0.0.0.0:7443";
  std::vector<std::string> hosts;  // that it is reached by, beside the one it listens on
  std::uint64_t snapshot_arrivals = kSnapshotArrivals;  // from one snapshot to the next; 0: none
};

// What the world outside gives a server; all of it outlives the server.
struct ServerSurroundings {
  const device::Clock& clock;
  device::Randomness& randomness;
  const Log& log;
};

class Server {
 public:
  // Opens the folder and listens.
  //
  // Only TLS 1.3 is spoken. gRPC takes that from the environment, once a process: start a server
  // before anything else that uses TLS, and before any thread that reads the environment.
  //
  // Errors: those of Store::Open (REPLICA_BUSY: another server runs on this folder), of Authority,
  // of files; INVALID_ARGUMENT with reason ADDRESS_FORM; UNAVAILABLE with reason ADDRESS_TAKEN.
  static absl::StatusOr<std::unique_ptr<Server>> Start(const ServerOptions& options,
                                                       const ServerSurroundings& surroundings);
  ~Server();

  // Where it listens, "host:port".
  const std::string& address() const;

  // The code that gives this server to a cooperative; nothing once it was claimed.
  std::optional<std::string> claim_code() const;

  // Ends all streams, waits for calls that are being answered (5 s at most), and closes the store.
  void Stop();

 private:
  struct Rep;
  explicit Server(std::unique_ptr<Rep> rep);
  std::unique_ptr<Rep> rep_;
};

}  // namespace broodpact::server
