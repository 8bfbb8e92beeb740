#pragma once

// A server of the simulation: the store, the arrival log and the streams of the real one, without
// its sockets, certificates and threads. What Server::Start puts together is put together here.

#include <functional>
#include <memory>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "client/device/key.h"
#include "client/store/store.h"
#include "client/sync/joining.h"
#include "server/arrival_log.h"
#include "server/callers.h"
#include "server/log.h"
#include "server/recovery.h"
#include "server/sync_service.h"
#include "tests/simulation/machine.h"
#include "tests/simulation/wire.h"

namespace broodpact::simulation {

class ServerNode {
 public:
  ServerNode(std::filesystem::path folder, const std::int64_t& world_ms);
  ~ServerNode();

  absl::Status Start();
  bool runs() const { return log_ != nullptr && !machine_.disk().dead(); }

  // Another server in the place of this one, which has died: its disk is empty, its key and its
  // address are its own.
  void BecomeAnother();
  // Where it is reached: another one has another.
  std::string address() const;

  // The process is gone; its streams with it.
  void Crash(Ending ending, Dice& dice);

  // A stream of a client.
  std::shared_ptr<Wire> Connect(const DeviceId& caller);

  // A newcomer's, or the founder's, first commit. `answered` is set when it has its place.
  struct Entry {
    std::optional<absl::StatusOr<server::Receipt>> answer;
  };
  absl::Status SubmitFounding(const facts::SignedCommit& founding,
                              const std::shared_ptr<Entry>& entry);
  absl::Status SubmitJoining(const Hash& cooperative, const facts::SignedCommit& joining,
                             const std::shared_ptr<Entry>& entry);
  // The invitation that somebody brings who enters again.
  absl::Status SubmitInviting(const sync::Reentry& reentry, const std::shared_ptr<Entry>& entry);

  // A registrar's claim in the place of the server that is gone. Returns the head of the new log.
  absl::StatusOr<sync::Head> Succeed(const DeviceId& caller, const sync::Takeover& takeover);

  // Whether a device gets another certificate.
  absl::Status CheckRenews(const DeviceId& caller) const {
    return callers_->Member(caller).status();
  }

  // A call of RecoveryService by a device, as the service lets it through. A server that admits no
  // loss has no such service.
  absl::Status Recover(const DeviceId& caller,
                       const std::function<absl::Status(const server::Recovery&)>& call);
  bool admits_losses = true;

  // Writes one group of what waits. False if nobody waited.
  bool Work();

  const store::Store& store() const { return *store_; }
  server::ArrivalLog& log() { return *log_; }
  Machine& machine() { return machine_; }
  std::vector<std::shared_ptr<Wire>>& wires() { return wires_; }
  // Heads that were let out, in order.
  std::vector<v1::SignedHead>& told() { return told_; }
  const PublicKey& log_key() const { return log_key_.public_key(); }

 private:
  server::SyncService::Surroundings Around();

  enum class Entrance { kFounds, kJoins };
  // Lets a run that was checked wait for its place.
  void Submit(server::Run run, Entrance entrance, const std::shared_ptr<Entry>& entry);

  mutable Machine machine_;
  std::ostream nowhere_{nullptr};
  server::Log events_;
  server::Allowance allowance_;
  int number_ = 1;  // of the server, each one in the place of the one before
  device::SecretKey log_key_;
  std::unique_ptr<store::Store> store_;
  std::optional<server::Callers> callers_;
  std::unique_ptr<server::ArrivalLog> log_;
  std::vector<v1::SignedHead> told_;
  std::vector<std::shared_ptr<Wire>> wires_;
};

}  // namespace broodpact::simulation
