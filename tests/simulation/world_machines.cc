// What befalls machines: clocks that jump, backups and copies of home folders, and a server that is
// put back from a backup, with or without its keeper's knowledge.

#include <algorithm>
#include <cstddef>
#include <set>

#include <fmt/format.h>

#include "client/base/check.h"
#include "tests/simulation/world.h"

namespace broodpact::simulation {
namespace {

constexpr std::int64_t kHour = 3'600'000;
constexpr std::int64_t kDay = 24 * kHour;
constexpr std::size_t kCopiesMax = 2;

}  // namespace

void World::JumpClock(Dice& dice) {
  const std::vector<std::int64_t> jumps = {0,          300'000,      -7 * kHour,    90 * kDay,
                                           -90 * kDay, 3'650 * kDay, -3'650 * kDay, 12 * kHour};
  const std::int64_t ahead = dice.AnyOf(jumps);
  // A server ten years ahead would stamp all that comes after it: once is enough of that.
  if (dice.Once(5)) {
    server_->machine().clock().SetAhead(ahead / 20);
    return Tell("  the server's clock is {} ms ahead", ahead / 20);
  }
  KeeperNode& keeper = AnyKeeper(dice);
  keeper.machine().clock().SetAhead(ahead);
  Tell("  the clock of {} is {} ms ahead", keeper.name(), ahead);
}

void World::BackUp(KeeperNode& keeper) {
  const std::size_t index = IndexOf(keeper);
  if (keeper.busy() || !joined_[index]) return;
  keeper.Close();
  backups_[index] = folder_ / (keeper.name() + ".backup");
  CopyFolder(keeper.machine().folder(), *backups_[index]);
  Tell("  {} puts a copy of the home folder aside", keeper.name());
}

void World::Restore(KeeperNode& keeper, Dice& dice) {
  const std::size_t index = IndexOf(keeper);
  if (!backups_[index] || !server_->runs()) return;
  // What others had delivered to a server that is gone, this disk may be the last to have.
  std::set<Hash> had;
  if (server_put_back_ && Opened(keeper)) had = CommitsIn(keeper.replica().store());
  keeper.Crash(AnyEnding(dice), dice);
  CopyFolder(*backups_[index], keeper.machine().folder());
  NoteJoined(keeper);
  // What only that disk had is gone with it.
  witness_.Excuse(keeper.name(), server_->store());
  if (!had.empty()) witness_.ExcuseOf(had, Everywhere());
  Tell("  {} restores the home folder", keeper.name());
}

std::set<Hash> World::Everywhere() {
  std::set<Hash> commits = OnMachines();
  commits.merge(CommitsIn(server_->store()));
  return commits;
}

std::set<Hash> World::OnMachines() {
  std::set<Hash> commits;
  for (const auto& keeper : keepers_) {
    if (!Opened(*keeper)) continue;
    commits.merge(CommitsIn(keeper->replica().store()));
    for (const auto& one : keeper->replica().undelivered()) commits.insert(one.commit.hash);
  }
  return commits;
}

void World::Copy(KeeperNode& keeper, Dice& /*dice*/) {
  const std::size_t index = IndexOf(keeper);
  const auto copies = static_cast<std::size_t>(std::ranges::count_if(
      keepers_, [](const auto& one) { return one->name().find('-') != std::string::npos; }));
  if (keeper.busy() || !joined_[index] || copies >= kCopiesMax) return;
  keeper.Close();
  const std::string name = fmt::format("{}-copy{}", keeper.name(), copies + 1);
  CopyFolder(keeper.machine().folder(), folder_ / name);
  AddKeeper(name);
  joined_.back() = true;
  Tell("  {} copies the home folder to a second machine, {}", keeper.name(), name);
}

void World::BackUpServer(Dice& dice) {
  if (!server_->runs() || !server_->admits_losses) return;
  CrashServer(dice);
  AfterThing(dice);
  server_backup_ = folder_ / "server.backup";
  CopyFolder(server_->machine().folder(), *server_backup_);
  Tell("  the server's folder is put aside");
  StartServer();
}

void World::RestoreServer(Dice& dice) {
  if (!server_backup_) return;
  // Whoever waits for it learns that it is gone; no call is to see the old one and the new one.
  CrashServer(dice);
  AfterThing(dice);
  CopyFolder(*server_backup_, server_->machine().folder());
  StartServer();
  BP_CHECK(server_->runs());
  witness_.ExcuseAllBut(Everywhere());
  witness_.ForgetHeads(server_->told().size());
  server_put_back_ = true;
  Tell("  the server's folder is put back, with {} arrivals", server_->store().point().arrivals);
}

}  // namespace broodpact::simulation
