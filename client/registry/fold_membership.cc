// Who belongs to the cooperative: Founding, Invitation, Joining.

#include "fmt/core.h"

#include "client/base/signature.h"
#include "client/registry/index.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding CheckDeviceKey(const Case& c, const PublicKey& key) {
  if (DeviceOf(key) == c.arrived.commit.header.device) return std::nullopt;
  return Void("DEVICE_KEY_OTHER", "the key that is stated is not the key of the device that wrote");
}

void EnterDevice(Case& c, const PublicKey& key) {
  Device& device = c.state.Create<Device>(DeviceOf(key));
  device.key = key;
  device.keeper = c.author();
  device.entry = c.entry;
}

}  // namespace

Finding Apply(Case& c, const facts::Founding& s) {
  if (c.state.cooperative() != nullptr) {
    return Refused("ALREADY_FOUNDED", fmt::format("{} is founded already; join it by an invite",
                                                  c.state.cooperative()->name));
  }
  if (c.arrived.arrival > 1) {
    return Refused("FOUNDING_NOT_FIRST", "a founding commit has to be the first to arrive");
  }
  if (c.arrived.commit.statements.size() != 1) {
    return Refused("FOUNDING_NOT_ALONE", "a founding commit states nothing else");
  }
  if (c.arrived.commit.header.cooperative != Hash{}) {
    return Void("COOPERATIVE_OTHER", "a founding commit names no cooperative before it");
  }
  if (Finding f = CheckDeviceKey(c, s.device_key)) return f;

  c.entry.keeper = s.keeper;
  Cooperative& cooperative = c.state.Create<Cooperative>(kCooperativeKey.id);
  cooperative.id = c.arrived.commit.hash;
  cooperative.name = s.name;
  cooperative.entry = c.entry;
  cooperative.keepers = 1;
  Keeper& founder = c.state.Create<Keeper>(s.keeper);
  founder.name = s.keeper_name;
  founder.role = facts::Role::kRegistrar;
  founder.region = s.region;
  founder.devices = {c.arrived.commit.header.device};
  founder.entry = c.entry;
  EnterDevice(c, s.device_key);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Invitation& s) {
  const Keeper* author = c.state.Find<Keeper>(c.author());
  if (author->role != facts::Role::kRegistrar) {
    return Void("NOT_REGISTRAR", "only a registrar may invite; ask one");
  }
  if (s.role == facts::Role::kUnspecified) {
    return Refused("ROLE_MISSING", "the invitation does not say what the newcomer will be");
  }
  const InviteId id = InviteOf(s.invite_key);
  if (c.state.Find<Invite>(id) != nullptr) return IdTaken("invitation", id.bytes);

  Invite& invite = c.state.Create<Invite>(id);
  invite.key = s.invite_key;
  invite.role = s.role;
  invite.entry = c.entry;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Joining& s) {
  const facts::CommitHeader& header = c.arrived.commit.header;
  if (c.state.Find<Device>(header.device) != nullptr) {
    return Refused("ALREADY_MEMBER", "this device is a member already");
  }
  if (Finding f = CheckDeviceKey(c, s.device_key)) return f;
  const InviteId id = InviteOf(s.invite_key);
  const Invite* invite = c.state.Find<Invite>(id);
  if (invite == nullptr) {
    return Void("INVITE_UNKNOWN",
                "nobody of this cooperative has made this invite; ask for a new one");
  }
  const std::string message =
      facts::JoiningMessage(c.state.cooperative()->id, s.keeper, s.device_key);
  if (!VerifySignature(s.invite_key, message, s.invite_signature)) {
    return Void("INVITE_SIGNATURE_BAD", "the invite's signature is not over this keeper and key");
  }
  if (!invite->spent_by.empty()) {
    return Superseded("INVITE_USED", "the invite has been used by somebody else; ask for a new one",
                      invite->spent_arrival);
  }
  if (IsKeeper(c, s.keeper)) return IdTaken("keeper", s.keeper.bytes);
  if (c.state.IsNamed(NamePrefix(Kind::kKeeper, s.keeper_name))) {
    return Refused(
        "NAME_TAKEN",
        fmt::format("there is a keeper named {} already; take another name", s.keeper_name));
  }

  const facts::Role role = invite->role;
  c.entry.keeper = s.keeper;
  Invite& spent = c.state.Edit<Invite>(id);
  spent.spent_by = header.device;
  spent.spent_arrival = c.entry.arrival;
  Keeper& keeper = c.state.Create<Keeper>(s.keeper);
  keeper.name = s.keeper_name;
  keeper.role = role;
  keeper.region = s.region;
  keeper.devices = {header.device};
  keeper.entry = c.entry;
  EnterDevice(c, s.device_key);
  ++c.state.EditCooperative().keepers;
  return std::nullopt;
}

}  // namespace broodpact::registry
