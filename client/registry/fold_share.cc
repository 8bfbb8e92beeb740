// Shares of a clutch beside its split: LateHatching, ShareWaiver; and Succession, by which a
// keeper who leaves names who has them.

#include <algorithm>

#include "fmt/core.h"

#include "client/registry/internal/basis.h"
#include "client/registry/internal/devices.h"

namespace broodpact::registry {

Finding Apply(Case& c, const facts::LateHatching& s) {
  if (Finding f = CheckKeepsClutch(c, s.clutch)) return f;
  const Clutch* before = c.state.Find<Clutch>(s.clutch);
  if (StandingCount(*before) == nullptr) {
    return Refused("NOT_COUNTED",
                   fmt::format("{} has no count; count all of it first", NameOf(*before)));
  }
  if (std::uint64_t{before->accounts.hatched} + s.slings > 2 * std::uint64_t{facts::kSlingsMax}) {
    return Refused("COUNT_OUT_OF_RANGE", "no clutch has so many slings");
  }
  if (Finding f = CheckShareOfRoom(c, before->events, "events")) return f;
  FlagFuture(c, s.day);
  Clutch& clutch = c.state.Edit<Clutch>(s.clutch);
  clutch.accounts.hatched += s.slings;
  clutch.accounts.undivided += s.slings;
  clutch.events.push_back(
      {.kind = SlingEventKind::kHatchedLate, .day = s.day, .slings = s.slings, .entry = c.entry});
  CheckBooks(c, clutch.accounts);
  if (s.slings > 0) TakeNumberAgain(c, s.clutch);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::ShareWaiver& s) {
  const Clutch* before = c.state.Find<Clutch>(s.clutch);
  if (before == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  const auto share = std::ranges::find(before->parties, s.party, &PartyShare::party);
  if (share == before->parties.end()) {
    return Refused("UNKNOWN_PARTY",
                   fmt::format("{} is no party of {}", NameOf(c, s.party), NameOf(*before)));
  }
  if (!ActsFor(c, share->receiver)) {
    return Void("NOT_PARTY", fmt::format("the share of {} is {}'s, not yours", NameOf(c, s.party),
                                         NameOf(c, share->receiver)));
  }
  if (share->waived) {
    return Refused("SHARE_WAIVED",
                   fmt::format("the share of {} is given up already", NameOf(c, s.party)));
  }
  if (!s.receiver.empty() && !IsKeeper(c, s.receiver)) {
    return UnknownSubject("keeper", s.receiver.bytes);
  }
  if (s.receiver == share->receiver) {
    return Refused("RECEIVER_IS_GIVER",
                   fmt::format("{} has that share already", NameOf(c, s.receiver)));
  }
  const auto others = std::ranges::count(before->parties, false, &PartyShare::waived) - 1;
  if (s.receiver.empty() && others == 0) {
    return Refused("LAST_SHARE",
                   fmt::format("nobody else is left to share {}; pass the share on to a keeper",
                               NameOf(*before)));
  }
  if (Finding f = CheckShareOfRoom(c, before->events, "events")) return f;

  const auto place = share - before->parties.begin();
  Clutch& clutch = c.state.Edit<Clutch>(s.clutch);
  PartyShare& changed = clutch.parties[static_cast<std::size_t>(place)];
  clutch.events.push_back({.kind = SlingEventKind::kWaived,
                           .keeper = changed.receiver,
                           .other = s.receiver,
                           .words = s.reason,
                           .entry = c.entry});
  if (s.receiver.empty()) {
    changed.waived = true;
  } else {
    changed.receiver = s.receiver;
  }
  return std::nullopt;
}

Finding Apply(Case& c, const facts::Succession& s) {
  const Keeper* leaver = c.state.Find<Keeper>(s.keeper);
  if (leaver == nullptr) return UnknownSubject("keeper", s.keeper.bytes);
  const bool by_itself = c.author() == s.keeper;
  if (!by_itself && Known<Keeper>(c, c.author()).role != facts::Role::kRegistrar) {
    return Void("NOT_REGISTRAR",
                fmt::format("{} or a registrar says who follows {}", leaver->name, leaver->name));
  }
  if (!by_itself && !leaver->has_left && HasDevice(c, *leaver)) {
    return Refused(
        "KEEPER_HAS_DEVICE",
        fmt::format("{} is here and acts for itself; only who has left, or has no device "
                    "left, is followed by whom a registrar names",
                    leaver->name));
  }
  if (!by_itself && leaver->succession.keeper == s.keeper && !leaver->successor.empty()) {
    return Refused("SUCCESSOR_NAMED", fmt::format("{} has named {} before leaving", leaver->name,
                                                  NameOf(c, leaver->successor)));
  }
  if (!s.successor.empty() && !IsKeeper(c, s.successor)) {
    return UnknownSubject("keeper", s.successor.bytes);
  }
  if (s.successor == s.keeper) {
    return Refused("SUCCESSOR_ITSELF", fmt::format("{} cannot follow itself", leaver->name));
  }
  FlagFuture(c, s.day);
  Keeper& keeper = c.state.Edit<Keeper>(s.keeper);
  keeper.successor = s.successor;
  keeper.succession = c.entry;
  return std::nullopt;
}

}  // namespace broodpact::registry
