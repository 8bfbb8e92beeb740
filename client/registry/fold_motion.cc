// What one keeper alone cannot bring about: RoleChange, MotionSignature, and how votes are counted.

#include <algorithm>
#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/devices.h"
#include "client/registry/motion.h"

namespace broodpact::registry {
namespace {

MotionId MotionIdOf(const Case& c, const IdBytes& target) {
  return FirstHalf<MotionId>(Sha256({ViewOf(c.arrived.commit.hash), "motion", ViewOf(target)}));
}

Electorate ElectorateOf(Case& c, const KeeperId& about) {
  const Cooperative& cooperative = *c.state.cooperative();
  return ElectorateFor({.registrars = cooperative.registrars,
                        .voters = cooperative.voters,
                        .about_registrar = VoteOf(c, about).registrar});
}

bool MaySign(Case& c, const Electorate& electorate, const KeeperId& keeper) {
  const Vote vote = VoteOf(c, keeper);
  return electorate.of_registrars ? vote.registrar : vote.voter;
}

Finding CheckMaySign(Case& c, const Electorate& electorate, const KeeperId& about) {
  if (c.author() == about) {
    return Void("NO_VOTE", "it is about yourself: others sign it");
  }
  if (MaySign(c, electorate, c.author())) return std::nullopt;
  return electorate.of_registrars
             ? Void("NOT_REGISTRAR", "registrars decide about this; ask one")
             : Void("NO_VOTE", "keepers decide about this, and an observer is none");
}

std::uint64_t CountSignatures(Case& c, const Motion& motion, const Electorate& electorate) {
  return static_cast<std::uint64_t>(std::count_if(
      motion.signatures.begin(), motion.signatures.end(), [&](const SignatureRecord& record) {
        return record.keeper != motion.keeper && MaySign(c, electorate, record.keeper);
      }));
}

void TakeEffect(Case& c, const Motion& motion) {
  switch (motion.what) {
    case MotionMatter::kRole:
      SetRole(c, motion.keeper, motion.role);
      return;
    case MotionMatter::kRevocation:
      if (Known<Device>(c, motion.device).state != DeviceState::kActive) return;
      Cease(c, motion.device,
            {.state = DeviceState::kRevoked,
             .cut = motion.cut,
             .awaited = motion.awaited,
             .reason = motion.reason});
      return;
  }
}

// Carries a motion if it has the signatures; else says how many are missing.
void CarryOrWait(Case& c, const MotionId& id) {
  const Motion motion = Known<Motion>(c, id);
  const Electorate electorate = ElectorateOf(c, motion.keeper);
  const std::uint64_t signatures = CountSignatures(c, motion, electorate);
  if (signatures < electorate.needed) {
    Flag(c, "FLAG_MOTION_OPEN",
         fmt::format("it takes effect when {} more of the {} have signed it: broodpact motion sign "
                     "{}",
                     electorate.needed - signatures,
                     electorate.of_registrars ? "registrars" : "keepers", ToShortText(id)));
    return;
  }
  TakeEffect(c, motion);
  Motion& carried = c.state.Edit<Motion>(id);
  carried.state = MotionState::kCarried;
  carried.carried = c.entry;
}

bool TouchesRegistrars(const Keeper& keeper, facts::Role role) {
  return keeper.role == facts::Role::kRegistrar || role == facts::Role::kRegistrar;
}

}  // namespace

Electorate ElectorateFor(const Votes& votes) {
  const std::uint64_t needed = votes.registrars / 2 + 1;
  const std::uint64_t others = votes.registrars - (votes.about_registrar ? 1 : 0);
  if (others >= needed) return {.of_registrars = true, .needed = needed};
  return {.of_registrars = false, .needed = votes.voters / 2 + 1};
}

void SetRole(Case& c, const KeeperId& id, facts::Role role) {
  const Vote before = VoteOf(c, id);
  Keeper& keeper = c.state.Edit<Keeper>(id);
  keeper.role = role;
  keeper.role_change = c.entry;
  Recount(c, id, before);
}

Finding Move(Case& c, Motion motion, const IdBytes& target) {
  const Electorate electorate = ElectorateOf(c, motion.keeper);
  if (Finding f = CheckMaySign(c, electorate, motion.keeper)) return f;
  const MotionId id = MotionIdOf(c, target);
  if (c.state.Find<Motion>(id) != nullptr) return IdTaken("motion", id.bytes);
  motion.id = id;
  motion.signatures = {{.keeper = c.author(), .entry = c.entry}};
  motion.entry = c.entry;
  c.state.Create<Motion>(id) = std::move(motion);
  CarryOrWait(c, id);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::RoleChange& s) {
  const Keeper* keeper = c.state.Find<Keeper>(s.keeper);
  if (keeper == nullptr) return UnknownSubject("keeper", s.keeper.bytes);
  if (keeper->role == s.role) {
    return Superseded("ROLE_SAME", fmt::format("{} has that role already", keeper->name),
                      keeper->role_change.arrival);
  }
  if (keeper->has_left) {
    return Refused("KEEPER_LEFT", fmt::format("{} has left the cooperative", keeper->name));
  }
  if (!TouchesRegistrars(*keeper, s.role)) {
    if (Known<Keeper>(c, c.author()).role != facts::Role::kRegistrar) {
      return Void("NOT_REGISTRAR", "only a registrar gives a keeper another role; ask one");
    }
    SetRole(c, s.keeper, s.role);
    return std::nullopt;
  }
  if (c.author() == s.keeper && s.role != facts::Role::kRegistrar) {
    if (c.state.cooperative()->registrars <= 1) {
      return Refused("LAST_REGISTRAR",
                     "you are the only registrar; make another keeper one before you step down");
    }
    SetRole(c, s.keeper, s.role);
    return std::nullopt;
  }
  return Move(c,
              {.what = MotionMatter::kRole, .keeper = s.keeper, .role = s.role, .reason = s.reason},
              s.keeper.bytes);
}

Finding Apply(Case& c, const facts::MotionSignature& s) {
  const Motion* motion = c.state.Find<Motion>(s.motion);
  if (motion == nullptr) return UnknownSubject("motion", s.motion.bytes);
  if (motion->state == MotionState::kCarried) {
    return Superseded("MOTION_CARRIED", "enough others have signed before; it has taken effect",
                      motion->carried.arrival);
  }
  const Electorate electorate = ElectorateOf(c, motion->keeper);
  if (Finding f = CheckMaySign(c, electorate, motion->keeper)) return f;
  if (!HasSigned(motion->signatures, c.author())) {
    if (Finding f = CheckRoom(motion->signatures.size(), "signatures")) return f;
    c.state.Edit<Motion>(s.motion).signatures.push_back({.keeper = c.author(), .entry = c.entry});
  }
  // Signed again: it may have become enough, because others have left or lost their roles.
  CarryOrWait(c, s.motion);
  return std::nullopt;
}

}  // namespace broodpact::registry
