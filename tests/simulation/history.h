#pragma once

// Histories: what keepers, machines and the network do, one action after the other. Each action has
// chances of its own, so that one can be dropped and the others stay what they were.

#include <cstdint>
#include <string_view>
#include <vector>

namespace broodpact::simulation {

enum class ActionKind : std::uint8_t {
  kDeeds,            // a keeper does a few things at home
  kSync,             // a keeper syncs, and some messages move
  kFollow,           // a keeper's session stays on as the live feed, until he stops
  kMessages,         // messages move
  kKeeperCrash,      // between two writes
  kKeeperCrashSoon,  // in the middle of a write to come
  kServerCrash,
  kServerCrashSoon,
  kCutOff,          // a keeper cannot reach the server
  kReachable,       // he can again
  kClock,           // a machine's clock jumps
  kBackUp,          // a home folder is put aside
  kRestore,         // and put back
  kCopy,            // a home folder is copied to a second machine, and both go on
  kHostile,         // somebody sends what he should not
  kMeddle,          // a relay loses, repeats or swaps messages; the server has no room for calls
  kBundle,          // a bundle goes from hand to hand, whole or damaged
  kJoin,            // a newcomer enters, or tries again
  kRevoke,          // a registrar cuts off a device
  kVerify,          // a keeper verifies, or rebuilds
  kServerBackUp,    // the server's folder is put aside
  kServerRestore,   // and put back
  kServerReplaced,  // the server is gone for good, and a registrar puts another in its place
};

std::string_view NameOf(ActionKind kind);

struct Action {
  ActionKind kind = ActionKind::kDeeds;
  std::uint64_t seed = 0;
};

// The history of a seed, before anything is dropped from it.
std::vector<Action> ActionsOf(std::uint64_t seed);

}  // namespace broodpact::simulation
