#pragma once

// A keeper's computer: a home folder, the replica in it while it is open, and at most one call that
// blocks on the network.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "client/replica/replica.h"
#include "tests/simulation/keeper_network.h"
#include "tests/simulation/machine.h"
#include "tests/simulation/server_node.h"
#include "tests/simulation/turns.h"

namespace broodpact::simulation {

class KeeperNode {
 public:
  // `server` and `world_ms` outlive the keeper. `seed` is what its key and its ids come from.
  KeeperNode(std::string name, std::filesystem::path folder, ServerNode& server,
             const std::int64_t& world_ms, std::uint64_t seed);
  ~KeeperNode();

  const std::string& name() const { return name_; }
  Machine& machine() { return machine_; }
  const std::filesystem::path& folder() const { return machine_.folder(); }

  // Makes the home; a twin has a copy of another one's instead.
  absl::Status Start();
  absl::Status Open();
  // Closes and opens it again, as a process that only syncs does.
  absl::Status ReopenToSync();
  void Close();
  bool open() const { return replica_ != nullptr; }
  replica::Replica& replica() { return *replica_; }

  // Lets a call begin that may wait for the network, with the replica open and no other call.
  void Begin(std::function<absl::Status()> call);
  bool busy() const { return turn_ != nullptr; }
  // Lets the call go on, if it waits for something that has come. Returns how it ended, if it did.
  std::optional<absl::Status> GoOn();
  // Whether going on would bring it further.
  bool CanGoOn() const;

  // The process is gone, in whatever it was doing.
  void Crash(Ending ending, Dice& dice);

  // Cut off from the server.
  bool cut_off = false;
  // Planted: it proves to nobody when something had arrived.
  bool forgets_first_times = false;
  // So many of its next single calls are not let in: there is no room for them.
  std::uint32_t turned_away = 0;
  // What its calls have seen go wrong.
  std::vector<std::string> complaints;
  // What follows is for the scheduler alone.
  bool follows = false;   // the session goes on until it is stopped
  bool shut_out = false;  // the server does not know its device, nor its invitation
  std::stop_source stop;
  std::shared_ptr<Wire> wire;  // of the session
  std::shared_ptr<ServerNode::Entry> entry;
  bool gives_up = false;  // a call that waits for an answer stops waiting
  bool calls = false;     // a single call waits to be let through

  // From the call: waits until something may have come.
  void Wait() { turn_->Wait(); }

 private:
  replica::Surroundings Parts();

  const std::string name_;
  const std::uint64_t seed_;
  Machine machine_;
  KeeperNetwork network_;
  DiceRandomness randomness_;
  std::unique_ptr<replica::Replica> replica_;
  std::unique_ptr<Turn> turn_;
  absl::Status result_;
};

}  // namespace broodpact::simulation
