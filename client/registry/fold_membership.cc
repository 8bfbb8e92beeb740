// Who belongs to the cooperative: Founding, Invitation, Joining.

#include "fmt/core.h"

#include "client/base/signature.h"
#include "client/registry/index.h"
#include "client/registry/internal/devices.h"

namespace broodpact::registry {
namespace {

Finding Withdrawn(const std::string& why) {
  return Void("INVITE_WITHDRAWN", why + "; ask for a new one");
}

// A registrar lets in for a keeper who has no device. An invitation that was made ahead, or a
// second one beside it, would else be a device of his in the registrar's hands, and a registrar's
// vote.
Finding CheckStandsFor(Case& c, const Keeper& keeper) {
  if (HasDevice(c, keeper)) {
    return Withdrawn(
        fmt::format("{} has a device meanwhile, which lets further ones in", keeper.name));
  }
  if (keeper.role != facts::Role::kRegistrar) return std::nullopt;
  return Withdrawn(
      fmt::format("{} has become a registrar, for whom no other lets a device in", keeper.name));
}

// An invitation stands while who made it may still let in: a stolen key leaves none behind, under
// whatever later key.
Finding CheckStands(Case& c, const Invite& invite) {
  const Device& maker = Known<Device>(c, ActingFor(c, invite.device));
  const bool ceased = maker.state != DeviceState::kActive;
  const bool by_itself = invite.keeper == invite.entry.keeper;
  const bool may =
      by_itself || Known<Keeper>(c, invite.entry.keeper).role == facts::Role::kRegistrar;
  if (ceased || !may) {
    return Withdrawn(
        fmt::format("{} or the device that made this invite may let nobody in any more",
                    NameOf(c, invite.entry.keeper)));
  }
  if (by_itself || invite.keeper.empty()) return std::nullopt;
  return CheckStandsFor(c, Known<Keeper>(c, invite.keeper));
}

// What a newcomer enters as: no stock of invitations makes registrars whom nobody has signed for.
facts::Role RoleBy(Case& c, const Invite& invite) {
  if (invite.role != facts::Role::kRegistrar || c.state.cooperative()->registrars <= 1) {
    return invite.role;
  }
  Flag(c, "FLAG_REGISTRAR_BY_COSIGNING",
       "there are several registrars since this invitation was made, and more than half of them "
       "sign for another one; until they do, the newcomer is a keeper");
  return facts::Role::kKeeper;
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
  founder.entry = c.entry;
  EnterDevice(c, s.device_key, {});
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
  if (s.role == facts::Role::kRegistrar && c.state.cooperative()->registrars > 1) {
    return Refused("REGISTRAR_BY_COSIGNING",
                   "where there are several registrars, more than half of them sign for another "
                   "one: invite as keeper, then change the role");
  }
  const InviteId id = InviteOf(s.invite_key);
  if (c.state.Find<Invite>(id) != nullptr) return IdTaken("invitation", id.bytes);

  Invite& invite = c.state.Create<Invite>(id);
  invite.key = s.invite_key;
  invite.role = s.role;
  invite.entry = c.entry;
  invite.device = WriterOf(c);
  return std::nullopt;
}

Finding CheckInvite(Case& c, const InviteId& id, const Entrance& entrance) {
  const Invite* invite = c.state.Find<Invite>(id);
  if (invite == nullptr) {
    return Void("INVITE_UNKNOWN",
                "nobody of this cooperative has made this invite; ask for a new one");
  }
  const std::string message =
      facts::JoiningMessage(c.state.cooperative()->id, entrance.keeper, entrance.device_key);
  if (!VerifySignature(invite->key, message, entrance.signature)) {
    return Void("INVITE_SIGNATURE_BAD", "the invite's signature is not over this keeper and key");
  }
  if (entrance.further_device ? invite->keeper != entrance.keeper : !invite->keeper.empty()) {
    return Void("INVITE_OTHER", entrance.further_device
                                    ? "the invite is not for a device of this keeper"
                                    : "the invite is for a further device of a keeper");
  }
  if (!invite->spent_by.empty()) {
    return Superseded("INVITE_USED", "the invite has been used by somebody else; ask for a new one",
                      invite->spent_arrival);
  }
  return CheckStands(c, *invite);
}

Finding Apply(Case& c, const facts::Joining& s) {
  const facts::CommitHeader& header = c.arrived.commit.header;
  if (c.state.Find<Device>(header.device) != nullptr) {
    return Refused("ALREADY_MEMBER", "this device is a member already");
  }
  if (Finding f = CheckDeviceKey(c, s.device_key)) return f;
  const InviteId id = InviteOf(s.invite_key);
  if (Finding f = CheckInvite(c, id,
                              {.keeper = s.keeper,
                               .device_key = s.device_key,
                               .signature = s.invite_signature,
                               .further_device = false})) {
    return f;
  }
  if (IsKeeper(c, s.keeper)) return IdTaken("keeper", s.keeper.bytes);
  if (c.state.IsNamed(NamePrefix(Kind::kKeeper, s.keeper_name))) {
    return Refused(
        "NAME_TAKEN",
        fmt::format("there is a keeper named {} already; take another name", s.keeper_name));
  }

  const facts::Role role = RoleBy(c, Known<Invite>(c, id));
  c.entry.keeper = s.keeper;
  Invite& spent = c.state.Edit<Invite>(id);
  spent.spent_by = header.device;
  spent.spent_arrival = c.entry.arrival;
  Keeper& keeper = c.state.Create<Keeper>(s.keeper);
  keeper.name = s.keeper_name;
  keeper.role = role;
  keeper.region = s.region;
  keeper.entry = c.entry;
  EnterDevice(c, s.device_key, {});
  ++c.state.EditCooperative().keepers;
  return std::nullopt;
}

}  // namespace broodpact::registry
