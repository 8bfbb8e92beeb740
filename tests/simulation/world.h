#pragma once

// A cooperative in a simulated world: keepers, a server, their machines and the network between
// them, under one scheduler. Nothing in it waits for real time, and no thread decides anything:
// equal seeds give equal worlds.

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <ostream>
#include <set>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "tests/simulation/history.h"
#include "tests/simulation/keeper_node.h"
#include "tests/simulation/planted.h"
#include "tests/simulation/server_node.h"
#include "tests/simulation/witness.h"

namespace broodpact::simulation {

class World {
 public:
  // `trace`, if any, gets every step as a line, and outlives the world.
  World(std::uint64_t seed, Planted planted, std::ostream* trace);
  ~World();
  World(const World&) = delete;
  World& operator=(const World&) = delete;

  // A server, its founder and two keepers who have joined.
  void SetUp();

  void Do(std::size_t number, const Action& action);

  // Faults stop: everything runs and is reachable, and everybody syncs twice.
  void Settle();

  // One sync of a keeper from its beginning to its end.
  void SyncOnce(KeeperNode& keeper) { Sync(keeper, dice_); }

  std::vector<std::unique_ptr<KeeperNode>>& keepers() { return keepers_; }
  ServerNode& server() { return *server_; }
  Witness& witness() { return witness_; }
  Planted planted() const { return planted_; }
  Dice& dice() { return dice_; }
  // Whether the registry has it that a device is cut off; that of a keeper.
  bool IsOut(const DeviceId& device) const;
  bool IsOut(KeeperNode& keeper) const;
  bool joined(std::size_t keeper) const { return joined_[keeper]; }

  template <typename... Args>
  void Tell(fmt::format_string<Args...> format, Args&&... args) {
    if (trace_ != nullptr) *trace_ << fmt::format(format, std::forward<Args>(args)...) << '\n';
  }

 private:
  KeeperNode& AddKeeper(const std::string& name);
  KeeperNode& AnyKeeper(Dice& dice);
  std::size_t IndexOf(const KeeperNode& keeper) const;
  // Notes whether its folder says that it has joined.
  void NoteJoined(const KeeperNode& keeper);
  // Opens a keeper's replica, if it is closed; false (and a complaint) if it cannot be.
  bool Opened(KeeperNode& keeper);
  // The same for a sync that is about to begin: every second one as a process of its own.
  bool OpenedToSync(KeeperNode& keeper, sync::Mode mode);
  // Whether that opened it. Complains where it did not, and not for a crash.
  bool IsOpen(KeeperNode& keeper, const absl::Status& status);

  // The scheduler. `Messages` lets at most so many things happen, and returns whether anything
  // still could.
  bool Messages(Dice& dice, std::size_t count);
  bool OneThing(Dice& dice);
  void AfterThing(Dice& dice);
  void GoOn(KeeperNode& keeper, Dice& dice);
  void RunToEnd(KeeperNode& keeper, Dice& dice);
  void OnEnd(KeeperNode& keeper, const absl::Status& status);

  // The actions.
  void Deeds(KeeperNode& keeper, Dice& dice, std::size_t count);
  void BeginSync(KeeperNode& keeper, sync::Mode mode);
  void BeginJoin(KeeperNode& keeper);
  void Sync(KeeperNode& keeper, Dice& dice);
  void CrashKeeper(KeeperNode& keeper, Dice& dice);
  void CrashServer(Dice& dice);
  void StartServer();
  void JumpClock(Dice& dice);
  void BackUp(KeeperNode& keeper);
  void Restore(KeeperNode& keeper, Dice& dice);
  void Copy(KeeperNode& keeper, Dice& dice);
  void Send(KeeperNode& keeper, Dice& dice);
  void Meddle(Dice& dice);
  void Bundle(KeeperNode& from, KeeperNode& to, Dice& dice);
  void Enter(Dice& dice);
  void Verify(KeeperNode& keeper, Dice& dice);
  // What keepers have, arrived or not; and what they or the server have. world_machines.cc
  std::set<Hash> OnMachines();
  std::set<Hash> Everywhere();
  void Revoke(KeeperNode& keeper, Dice& dice);  // world_revocation.cc
  void BackUpServer(Dice& dice);                // world_machines.cc, as the next one
  void RestoreServer(Dice& dice);
  void ReplaceServer(Dice& dice);  // world_servers.cc, as all below
  // The founder gives the log to the server that has none, and names it to the others.
  void TakeOver(Dice& dice);
  // Whether a keeper still looks for a server that was replaced, and knows of the new one.
  bool IsBehind(const KeeperNode& keeper) const;
  void BeginMove(KeeperNode& keeper);
  // The founder invites a keeper anew whose invitation no server can have any more, and takes over
  // what only he has.
  void Readmit(KeeperNode& keeper);
  // Does what `status` says of commits that are kept for others, and what the server says to one
  // who is cut off: brings by a bundle what only this keeper has.
  void HandOver(KeeperNode& keeper);
  // One writes a bundle of all that he has, the other one reads it and syncs.
  void Bring(KeeperNode& from, KeeperNode& to);
  // What a keeper joins by: it leads to the present server.
  std::string CodeOf(const KeeperNode& keeper) const;

  const Planted planted_;
  std::ostream* const trace_;
  Dice dice_;
  const std::filesystem::path folder_;
  std::int64_t now_ms_ = 1'795'597'200'000;
  Witness witness_;
  std::unique_ptr<ServerNode> server_;
  std::vector<std::unique_ptr<KeeperNode>> keepers_;
  std::vector<std::string> codes_;  // of each keeper; empty: the founder's
  std::vector<bool> joined_;        // each keeper
  std::vector<std::optional<std::filesystem::path>> backups_;  // of each keeper
  std::optional<std::filesystem::path> server_backup_;
  std::string server_code_;  // that leads to the present server, where it is not the first one
  std::set<DeviceId> out_;   // cut off, as soon as that has arrived
  bool set_up_ = false;
  bool server_put_back_ = false;
  std::uint64_t syncs_ = 0;  // that were one exchange
  std::size_t rounds_ = 0;   // of syncs, since faults have stopped
  std::size_t ranges_ = 0;   // that came by a planted relay
};

}  // namespace broodpact::simulation
