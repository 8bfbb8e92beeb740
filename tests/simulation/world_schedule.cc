// Who goes on when: one thing after the other, by the dice.

#include <algorithm>
#include <vector>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "tests/simulation/world.h"

namespace broodpact::simulation {
namespace {

// More messages than any call needs.
constexpr std::size_t kMessagesMax = 100'000;

}  // namespace

void World::OnEnd(KeeperNode& keeper, const absl::Status& status) {
  Tell("  {}: the call ends: {}", keeper.name(), TextOf(status));
  for (std::string& complaint : std::exchange(keeper.complaints, {})) {
    witness_.Complain(std::move(complaint));
  }
  if (keeper.machine().disk().dead()) return;
  // He is told to ask for a new invitation, and Settle sees to it: he is unknown to the server; or
  // was let in by one that is gone and got nothing of the log, and so knows no registrar.
  keeper.shut_out =
      rounds_ == 1 && (ReasonOf(status) == "DEVICE_UNKNOWN" || ReasonOf(status) == "NOT_REGISTRAR");
  const bool expected = status.ok() || ReasonOf(status) == "INVITE_UNKNOWN" || keeper.shut_out ||
                        (ReasonOf(status) == "DEVICE_REVOKED" && IsOut(keeper));
  if (IsAlarm(status) || (rounds_ > 0 && !expected)) {
    witness_.Complain(fmt::format("the call of {} ends with {}", keeper.name(), TextOf(status)));
  }
  witness_.NoteKept(keeper.name(), keeper.replica());
  witness_.NoteVerdicts(keeper.name(), keeper.replica().store());
}

void World::GoOn(KeeperNode& keeper, Dice& dice) {
  const std::optional<absl::Status> ended = keeper.GoOn();
  if (ended) OnEnd(keeper, *ended);
  if (keeper.machine().disk().dead()) CrashKeeper(keeper, dice);
}

void World::AfterThing(Dice& dice) {
  if (server_->machine().disk().dead()) CrashServer(dice);
  for (const auto& keeper : keepers_) {
    while (keeper->CanGoOn()) GoOn(*keeper, dice);
  }
}

bool World::OneThing(Dice& dice) {
  if (!server_->runs()) return false;
  struct Thing {
    Wire* wire;
    int what;
    KeeperNode* keeper = nullptr;
  };
  std::vector<Thing> things;
  for (const auto& keeper : keepers_) {
    if (keeper->calls) things.push_back({nullptr, 3, keeper.get()});
  }
  for (const std::shared_ptr<Wire>& wire : server_->wires()) {
    if (wire->CanDeliverUp()) things.push_back({wire.get(), 0});
    if (wire->CanConfirmWrite()) things.push_back({wire.get(), 1});
    const bool heard = std::ranges::any_of(
        keepers_, [&](const auto& keeper) { return keeper->wire.get() == wire.get(); });
    if (heard && wire->CanDeliverDown()) things.push_back({wire.get(), 2});
  }
  if (things.empty() || dice.Roll(things.size() + 1) == 0) {
    if (planted_ == Planted::kServerForgets) {
      CopyFolder(server_->machine().folder(), folder_ / "server-now");
    }
    const bool worked = server_->Work();
    if (worked && planted_ == Planted::kServerForgets) {
      CopyFolder(folder_ / "server-now", folder_ / "server-before");
    }
    AfterThing(dice);
    if (worked || things.empty()) return worked;
  }
  const Thing thing = things[dice.Roll(things.size())];
  if (thing.what == 3) {
    thing.keeper->calls = false;
    AfterThing(dice);
    return true;
  }
  // The wire may have come to its end meanwhile.
  const auto wires = server_->wires();
  if (std::ranges::none_of(wires, [&](const auto& wire) { return wire.get() == thing.wire; })) {
    return true;
  }
  if (thing.what == 0 && thing.wire->CanDeliverUp()) thing.wire->DeliverUp();
  if (thing.what == 1 && thing.wire->CanConfirmWrite()) thing.wire->ConfirmWrite();
  if (thing.what == 2 && thing.wire->CanDeliverDown()) {
    // Not before there is a cooperative that could suffer from it.
    if (set_up_ && planted_ == Planted::kRangesSwapped) thing.wire->Meddle(Mischief::kSwap);
    if (set_up_ && planted_ == Planted::kRangesLost && ++ranges_ % 3 == 0) {
      thing.wire->Meddle(Mischief::kLose);
    }
    if (thing.wire->CanDeliverDown()) thing.wire->DeliverDown();
  }
  AfterThing(dice);
  return true;
}

bool World::Messages(Dice& dice, std::size_t count) {
  AfterThing(dice);
  for (std::size_t i = 0; i < count; ++i) {
    if (!OneThing(dice)) return false;
  }
  return true;
}

void World::RunToEnd(KeeperNode& keeper, Dice& dice) {
  for (std::size_t i = 0; keeper.busy() && i < kMessagesMax; ++i) {
    if (Messages(dice, 1) || !keeper.busy()) continue;
    // Nothing more can come: a message was lost, or the server is away. Connections notice that.
    if (keeper.calls) {
      keeper.calls = false;
    } else if (keeper.follows) {
      keeper.stop.request_stop();
    } else if (keeper.entry != nullptr) {
      keeper.gives_up = true;
    } else if (keeper.wire != nullptr) {
      keeper.wire->Break();
    }
    AfterThing(dice);
  }
  if (keeper.busy()) witness_.Complain(fmt::format("a call of {} never ends", keeper.name()));
}

}  // namespace broodpact::simulation
