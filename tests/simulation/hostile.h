#pragma once

// What nobody should send: malformed, forged, out of place, or well-formed and without authority.
// The sender has what a thief of a laptop has: a member's key.

#include <optional>
#include <string>
#include <vector>

#include "broodpact/v1/sync_service.pb.h"
#include "tests/simulation/keeper_node.h"
#include "tests/simulation/server_node.h"

namespace broodpact::simulation {

struct HostileSending {
  std::string what;
  DeviceId caller;  // as the connection says
  std::vector<v1::SyncRequest> requests;
  bool refused = true;                   // the server must say no, with a reason
  std::optional<Hash> without_effect{};  // a commit that must not count where it arrives
};

// One of them, with the key of `keeper`, whose replica is open.
HostileSending HostileSendingOf(KeeperNode& keeper, ServerNode& server, Dice& dice);

// A run that a stranger signed, as the door would never let it through.
server::Run RunOfStranger(const Hash& cooperative, Dice& dice);

// Whether a commit of a sending is in the log after so many arrivals: what waited there of honest
// keepers may arrive beside it.
bool IsAmong(const HostileSending& sending, const store::Store& log, std::uint64_t before);

}  // namespace broodpact::simulation
