#pragma once

// Devices that come and cease, and who has a vote: what the rules of membership share.

#include <cstdint>
#include <vector>

#include "client/registry/internal/rules.h"

namespace broodpact::registry {

// VOID DEVICE_KEY_OTHER unless the key is that of the device that wrote.
Finding CheckDeviceKey(Case& c, const PublicKey& key);

// Enters a device of the author's, and books the author's vote.
Device& EnterDevice(Case& c, const PublicKey& key, const DeviceId& admitted_by);

// The device that wrote what is folded: of a commit that is stated again, the one that does so.
const DeviceId& WriterOf(const Case& c);

// The device that acts for this one now: itself, or the last that took its place.
DeviceId ActingFor(Case& c, DeviceId device);

// Whether a keeper has a device that is active.
bool HasDevice(Case& c, const Keeper& keeper);

// Whether a keeper with a device is a registrar, and whether it votes at all.
struct Vote {
  bool registrar = false;
  bool voter = false;
};
Vote VoteOf(Case& c, const KeeperId& keeper);

// Books how a keeper's vote changed from `before`.
void Recount(Case& c, const KeeperId& keeper, const Vote& before);

// How a device ceases.
struct Ceasing {
  DeviceState state = DeviceState::kRevoked;
  ChainCut cut{};
  std::vector<Hash> awaited{};
  DeviceId successor{};
  std::string reason{};
};
void Cease(Case& c, const DeviceId& device, const Ceasing& ceasing);

// VOID DEVICE_REVOKED, DEVICE_REPLACED or DEVICE_LEFT if what wrote the commit had ceased, and the
// commit is none that is awaited.
Finding CheckDevice(Case& c);

// Whether the commit of this case, which is adopted by the one around it, may be; enters it as a
// branch then.
Finding CheckAdoption(Case& c);

// Gives a keeper a role, and books its vote.
void SetRole(Case& c, const KeeperId& keeper, facts::Role role);

// States a motion with its author's signature, and carries it if that is enough. `target`: the id
// of what it is about. VOID NOT_REGISTRAR or NO_VOTE; REFUSED ID_TAKEN.
Finding Move(Case& c, Motion motion, const IdBytes& target);

}  // namespace broodpact::registry
