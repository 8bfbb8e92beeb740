#include "tests/simulation/history.h"

#include <array>

#include "client/base/check.h"
#include "tests/simulation/dice.h"

namespace broodpact::simulation {
namespace {

struct Weighted {
  ActionKind kind;
  std::uint32_t weight;
};

// Most of the time keepers work and sync; each fault comes a few times in ten histories at least.
constexpr std::array<Weighted, 23> kWeights = {{{ActionKind::kDeeds, 37},
                                                {ActionKind::kServerReplaced, 1},
                                                {ActionKind::kSync, 26},
                                                {ActionKind::kFollow, 3},
                                                {ActionKind::kMessages, 14},
                                                {ActionKind::kKeeperCrash, 3},
                                                {ActionKind::kKeeperCrashSoon, 3},
                                                {ActionKind::kServerCrash, 2},
                                                {ActionKind::kServerCrashSoon, 2},
                                                {ActionKind::kCutOff, 2},
                                                {ActionKind::kReachable, 2},
                                                {ActionKind::kClock, 2},
                                                {ActionKind::kBackUp, 2},
                                                {ActionKind::kRestore, 2},
                                                {ActionKind::kCopy, 1},
                                                {ActionKind::kHostile, 4},
                                                {ActionKind::kMeddle, 2},
                                                {ActionKind::kBundle, 3},
                                                {ActionKind::kJoin, 2},
                                                {ActionKind::kRevoke, 2},
                                                {ActionKind::kVerify, 1},
                                                {ActionKind::kServerBackUp, 2},
                                                {ActionKind::kServerRestore, 2}}};

constexpr std::uint32_t kActionsMin = 16;
constexpr std::uint32_t kActionsSpread = 40;

ActionKind AnyKind(Dice& dice) {
  std::uint32_t sum = 0;
  for (const Weighted& one : kWeights) sum += one.weight;
  std::uint32_t place = dice.Roll(sum);
  for (const Weighted& one : kWeights) {
    if (place < one.weight) return one.kind;
    place -= one.weight;
  }
  BP_CHECK(false);
  return ActionKind::kDeeds;
}

}  // namespace

std::string_view NameOf(ActionKind kind) {
  switch (kind) {
    case ActionKind::kDeeds:
      return "deeds";
    case ActionKind::kSync:
      return "sync";
    case ActionKind::kFollow:
      return "follow";
    case ActionKind::kMessages:
      return "messages";
    case ActionKind::kKeeperCrash:
      return "keeper-crash";
    case ActionKind::kKeeperCrashSoon:
      return "keeper-crash-soon";
    case ActionKind::kServerCrash:
      return "server-crash";
    case ActionKind::kServerCrashSoon:
      return "server-crash-soon";
    case ActionKind::kCutOff:
      return "cut-off";
    case ActionKind::kReachable:
      return "reachable";
    case ActionKind::kClock:
      return "clock";
    case ActionKind::kBackUp:
      return "back-up";
    case ActionKind::kRestore:
      return "restore";
    case ActionKind::kCopy:
      return "copy";
    case ActionKind::kHostile:
      return "hostile";
    case ActionKind::kMeddle:
      return "meddle";
    case ActionKind::kBundle:
      return "bundle";
    case ActionKind::kJoin:
      return "join";
    case ActionKind::kRevoke:
      return "revoke";
    case ActionKind::kVerify:
      return "verify";
    case ActionKind::kServerBackUp:
      return "server-back-up";
    case ActionKind::kServerRestore:
      return "server-restore";
    case ActionKind::kServerReplaced:
      return "server-replaced";
  }
  return "unknown";
}

std::vector<Action> ActionsOf(std::uint64_t seed) {
  Dice dice(seed);
  std::vector<Action> actions(kActionsMin + dice.Roll(kActionsSpread));
  for (Action& action : actions) {
    action.kind = AnyKind(dice);
    action.seed = dice.Next();
  }
  return actions;
}

}  // namespace broodpact::simulation
