// A server that is gone for good, and another one in its place: a registrar gives it the log and
// names it, the others go over to it.

#include <optional>
#include <set>
#include <sstream>
#include <string>
#include <utility>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/replica/home.h"
#include "client/sync/invite_code.h"
#include "tests/simulation/world.h"

namespace broodpact::simulation {

void World::ReplaceServer(Dice& dice) {
  KeeperNode& founder = *keepers_.front();
  if (!server_->admits_losses || founder.busy() || !joined_.front() || !Opened(founder)) return;
  CrashServer(dice);
  AfterThing(dice);
  witness_.ExcuseAllBut(OnMachines());
  witness_.ForgetHeads(server_->told().size());
  server_put_back_ = true;
  server_backup_.reset();
  server_code_.clear();
  server_->BecomeAnother();
  Tell("  the server is gone for good; another one is at {}", server_->address());
  StartServer();
  if (!dice.Once(4)) TakeOver(dice);
}

void World::TakeOver(Dice& dice) {
  KeeperNode& founder = *keepers_.front();
  if (founder.busy() || !Opened(founder)) return;
  founder.Begin([&founder, code = sync::BuildInviteCode({.cooperative = {},
                                                         .authority = {},
                                                         .secret = std::string(16, 'c'),
                                                         .address = server_->address()})] {
    return founder.replica().TakeOverServer(code).status();
  });
  RunToEnd(founder, dice);
  if (!server_->runs() || !server_->log().claimed() || !Opened(founder)) return;
  const absl::StatusOr<std::string> named = founder.replica().NameServer();
  Tell("  {} names the new server: {}", founder.name(),
       named.ok() ? "ok" : std::string(named.status().message()));
  if (named.ok()) server_code_ = *named;
}

void World::Readmit(KeeperNode& keeper) {
  KeeperNode& founder = *keepers_.front();
  if (founder.busy() || !Opened(founder) || !Opened(keeper)) return;
  const absl::StatusOr<std::string> code =
      founder.replica().Invite(facts::Role::kKeeper, keeper.name());
  Tell("  {} invites {} anew: {}", founder.name(), keeper.name(), TextOf(code.status()));
  if (!code.ok()) return;
  Sync(founder, dice_);
  codes_[IndexOf(keeper)] = *code;
  BeginJoin(keeper);
  RunToEnd(keeper, dice_);
  Sync(keeper, dice_);
  Bring(keeper, founder);
}

void World::Bring(KeeperNode& from, KeeperNode& to) {
  std::stringstream bundle;
  if (!from.replica().WriteBundle(bundle, std::nullopt).ok()) return;
  const auto read = to.replica().ReadBundle(bundle);
  Tell("  what {} has is read by {}: {}", from.name(), to.name(), TextOf(read.status()));
  Sync(to, dice_);
}

void World::HandOver(KeeperNode& keeper) {
  if (keeper.busy() || !Opened(keeper)) return;
  if (keeper.replica().aside() == 0 && !IsOut(keeper)) return;
  for (std::size_t i = 0; i < keepers_.size(); ++i) {
    KeeperNode& author = *keepers_[i];
    if (&author == &keeper || !joined_[i] || author.busy() || !Opened(author)) continue;
    Bring(keeper, author);
  }
}

// An invitation says where the server was when it was written; whoever brings it to a newcomer
// tells him the new place.
std::string World::CodeOf(const KeeperNode& keeper) const {
  absl::StatusOr<sync::InviteCode> code = sync::ParseInviteCode(codes_[IndexOf(keeper)]);
  BP_CHECK(code.ok());
  code->address = server_->address();
  return sync::BuildInviteCode(*code);
}

bool World::IsBehind(const KeeperNode& keeper) const {
  if (server_code_.empty()) return false;
  const auto credentials = replica::Home(keeper.folder()).ReadCredentials();
  return credentials.ok() && *credentials && (*credentials)->address != server_->address();
}

void World::BeginMove(KeeperNode& keeper) {
  Tell("  {} goes over to the new server", keeper.name());
  keeper.Begin(
      [&keeper, code = server_code_] { return keeper.replica().MoveToServer(code).status(); });
}

}  // namespace broodpact::simulation
