// Devices of keepers: DeviceInvitation, DeviceJoining, KeyRotation, Leaving; who has a vote.

#include <algorithm>
#include <cstddef>

#include "fmt/core.h"

#include "client/registry/index.h"
#include "client/registry/internal/devices.h"

namespace broodpact::registry {
namespace {

// Who may let a device of this keeper in: the keeper; or a registrar, where there is none left.
Finding CheckMayAdmit(Case& c, const Keeper& keeper) {
  if (c.author() == keeper.id) return std::nullopt;
  if (Known<Keeper>(c, c.author()).role != facts::Role::kRegistrar) {
    return Void("NOT_REGISTRAR",
                fmt::format("a device of {} is let in by {}; or by a registrar, if "
                            "{} has none left",
                            keeper.name, keeper.name, keeper.name));
  }
  if (HasDevice(c, keeper)) {
    return Refused("KEEPER_HAS_DEVICE",
                   fmt::format("{} has a device that can let another one in; revoke it first if it "
                               "is lost",
                               keeper.name));
  }
  if (keeper.role == facts::Role::kRegistrar) {
    return Refused("REGISTRAR_BY_COSIGNING",
                   fmt::format("{} is a registrar; take the role back first, so that nobody makes "
                               "himself a registrar's device",
                               keeper.name));
  }
  return std::nullopt;
}

}  // namespace

Finding CheckDeviceKey(Case& c, const PublicKey& key) {
  if (DeviceOf(key) == c.arrived.commit.header.device) return std::nullopt;
  return Void("DEVICE_KEY_OTHER", "the key that is stated is not the key of the device that wrote");
}

Device& EnterDevice(Case& c, const PublicKey& key, const DeviceId& admitted_by) {
  const Vote before = VoteOf(c, c.author());
  Device& device = c.state.Create<Device>(DeviceOf(key));
  device.key = key;
  device.keeper = c.author();
  device.entry = c.entry;
  device.admitted_by = admitted_by;
  c.state.Edit<Keeper>(c.author()).devices.push_back(DeviceOf(key));
  Recount(c, c.author(), before);
  return device;
}

const DeviceId& WriterOf(const Case& c) {
  return c.around != nullptr ? c.around->header.device : c.arrived.commit.header.device;
}

DeviceId ActingFor(Case& c, DeviceId id) {
  for (std::size_t i = 0; i < kDevicesMax; ++i) {
    const Device& device = Known<Device>(c, id);
    if (device.state != DeviceState::kReplaced) break;
    id = device.successor;
  }
  return id;
}

bool HasDevice(Case& c, const Keeper& keeper) {
  return std::any_of(keeper.devices.begin(), keeper.devices.end(), [&](const DeviceId& id) {
    return Known<Device>(c, id).state == DeviceState::kActive;
  });
}

Vote VoteOf(Case& c, const KeeperId& id) {
  const Keeper* keeper = c.state.Find<Keeper>(id);
  if (keeper == nullptr || keeper->role == facts::Role::kObserver) return {};
  if (!HasDevice(c, *keeper)) return {};
  return {.registrar = keeper->role == facts::Role::kRegistrar, .voter = true};
}

void Recount(Case& c, const KeeperId& keeper, const Vote& before) {
  const Vote now = VoteOf(c, keeper);
  if (now.registrar == before.registrar && now.voter == before.voter) return;
  Cooperative& cooperative = c.state.EditCooperative();
  cooperative.registrars += now.registrar ? 1U : 0U;
  cooperative.registrars -= before.registrar ? 1U : 0U;
  cooperative.voters += now.voter ? 1U : 0U;
  cooperative.voters -= before.voter ? 1U : 0U;
}

void Cease(Case& c, const DeviceId& id, const Ceasing& ceasing) {
  const KeeperId keeper = Known<Device>(c, id).keeper;
  const Vote before = VoteOf(c, keeper);
  Device& device = c.state.Edit<Device>(id);
  device.state = ceasing.state;
  device.cut = ceasing.cut;
  device.awaited = ceasing.awaited;
  device.successor = ceasing.successor;
  device.reason = ceasing.reason;
  device.ended = c.entry;
  Recount(c, keeper, before);
}

Finding Apply(Case& c, const facts::DeviceInvitation& s) {
  const Keeper* keeper = c.state.Find<Keeper>(s.keeper);
  if (keeper == nullptr) return UnknownSubject("keeper", s.keeper.bytes);
  if (Finding f = CheckMayAdmit(c, *keeper)) return f;
  const InviteId id = InviteOf(s.invite_key);
  if (c.state.Find<Invite>(id) != nullptr) return IdTaken("invitation", id.bytes);

  Invite& invite = c.state.Create<Invite>(id);
  invite.key = s.invite_key;
  invite.role = keeper->role;
  invite.entry = c.entry;
  invite.keeper = s.keeper;
  invite.device = WriterOf(c);
  invite.label = s.label;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::DeviceJoining& s) {
  const DeviceId writer = c.arrived.commit.header.device;
  if (c.state.Find<Device>(writer) != nullptr) {
    return Refused("ALREADY_MEMBER", "this device is a member already");
  }
  if (Finding f = CheckDeviceKey(c, s.device_key)) return f;
  const InviteId id = InviteOf(s.invite_key);
  if (Finding f = CheckInvite(c, id,
                              {.keeper = s.keeper,
                               .device_key = s.device_key,
                               .signature = s.invite_signature,
                               .further_device = true})) {
    return f;
  }
  const Keeper* keeper = c.state.Find<Keeper>(s.keeper);
  if (keeper == nullptr) return UnknownSubject("keeper", s.keeper.bytes);
  if (keeper->devices.size() >= kDevicesMax) {
    return Refused("TOO_MANY_RECORDS",
                   fmt::format("{} has had {} devices, and there is no room for more", keeper->name,
                               keeper->devices.size()));
  }

  c.entry.keeper = s.keeper;
  Invite& spent = c.state.Edit<Invite>(id);
  spent.spent_by = writer;
  spent.spent_arrival = c.entry.arrival;
  const DeviceId inviter = spent.device;
  const std::string label = spent.label;
  if (keeper->has_left) {  // a registrar has let it in again
    Keeper& back = c.state.Edit<Keeper>(s.keeper);
    back.has_left = false;
    back.left = {};
    back.leaving_reason = {};
    back.successor = {};
    back.succession = {};
  }
  EnterDevice(c, s.device_key, inviter).label = label;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::KeyRotation& s) {
  const facts::CommitHeader& header = c.arrived.commit.header;
  const DeviceId next = DeviceOf(s.device_key);
  const Device* old = c.state.Find<Device>(header.device);
  if (old == nullptr) return UnknownSubject("device", header.device.bytes);
  if (old->state != DeviceState::kActive) {
    return Refused("KEY_REPLACED", "another key has taken this one's place already");
  }
  if (c.state.Find<Device>(next) != nullptr) return IdTaken("device", next.bytes);
  const std::string message = facts::RotationMessage(c.state.cooperative()->id, header.device);
  if (!VerifySignature(s.device_key, message, s.key_signature)) {
    return Void("KEY_SIGNATURE_BAD",
                "the new key has not signed that it takes the old one's place");
  }
  if (Known<Keeper>(c, c.author()).devices.size() >= kDevicesMax) {
    return Refused("TOO_MANY_RECORDS",
                   "you have had so many devices that there is no room for "
                   "another; ask for a new keeper's invitation");
  }
  const std::string label = old->label;
  EnterDevice(c, s.device_key, header.device).label = label;
  Cease(
      c, header.device,
      {.state = DeviceState::kReplaced,
       .cut = {.incarnation = header.incarnation, .seq = header.seq, .hash = c.arrived.commit.hash},
       .successor = next});
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Leaving& s) {
  const Keeper& leaver = Known<Keeper>(c, c.author());
  if (leaver.role == facts::Role::kRegistrar && c.state.cooperative()->registrars <= 1) {
    return Refused("LAST_REGISTRAR",
                   "you are the only registrar; make another keeper one before you leave");
  }
  const facts::CommitHeader& header = c.arrived.commit.header;
  const std::vector<DeviceId> devices = leaver.devices;
  for (const DeviceId& device : devices) {
    if (Known<Device>(c, device).state != DeviceState::kActive) continue;
    Ceasing ceasing{.state = DeviceState::kLeft, .reason = s.reason};
    if (device == header.device) {
      ceasing.cut = {
          .incarnation = header.incarnation, .seq = header.seq, .hash = c.arrived.commit.hash};
    }
    Cease(c, device, ceasing);
  }
  Keeper& keeper = c.state.Edit<Keeper>(c.author());
  keeper.has_left = true;
  keeper.left = c.entry;
  keeper.leaving_reason = s.reason;
  return std::nullopt;
}

}  // namespace broodpact::registry
