// A registrar cuts a device off, and what that means to the one who has it.

#include <algorithm>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/registry/state.h"
#include "client/replica/acts_member.h"
#include "tests/simulation/world.h"

namespace broodpact::simulation {

// Not his own, and at most so many: the others are to go on.
void World::Revoke(KeeperNode& keeper, Dice& dice) {
  constexpr std::size_t kOutMax = 2;
  KeeperNode& founder = *keepers_.front();
  if (!set_up_ || out_.size() >= kOutMax || founder.busy() || keeper.busy()) return;
  if (!Opened(founder) || !Opened(keeper)) return;
  const DeviceId device = DeviceOf(keeper.replica().device_key());
  if (device == DeviceOf(founder.replica().device_key()) || out_.contains(device)) return;
  const auto revoked =
      replica::RevokeDevice(founder.replica(), {.device = device, .reason = "the laptop is lost"});
  Tell("  {} cuts off the device of {}: {}", founder.name(), keeper.name(),
       revoked.ok() ? revoked->cut : std::string(revoked.status().message()));
  const bool died = founder.machine().disk().dead();
  // Of a write that the machine died in, the disk may have all.
  if (revoked.ok() || died) out_.insert(device);
  if (died) return CrashKeeper(founder, dice);
  witness_.NoteKept(founder.name(), founder.replica());
}

bool World::IsOut(const DeviceId& device) const {
  if (!out_.contains(device) || !server_->runs()) return false;
  const auto known = registry::Read<registry::Device>(server_->store(), device);
  return known.ok() && *known && (*known)->state == registry::DeviceState::kRevoked;
}

bool World::IsOut(KeeperNode& keeper) const {
  return keeper.Open().ok() && IsOut(DeviceOf(keeper.replica().device_key()));
}

}  // namespace broodpact::simulation
