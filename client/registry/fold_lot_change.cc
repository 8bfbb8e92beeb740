// Lots that change without a handover: LotReturn, LotPassing, LotDivision, LotMerging, and what a
// settlement awards.

#include <algorithm>

#include "fmt/core.h"

#include "client/registry/internal/leases.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding CheckOwner(Case& c, const LotId& id) {
  const Lot* lot = c.state.Find<Lot>(id);
  if (lot == nullptr) return UnknownSubject("lot", id.bytes);
  if (ActsFor(c, lot->owner)) return std::nullopt;
  return Void("NOT_OWNER",
              fmt::format("{} is owned by {}, not by you", NameOf(*lot), NameOf(c, lot->owner)));
}

Finding CheckOwnerOrHolder(Case& c, const LotId& id) {
  const Lot* lot = c.state.Find<Lot>(id);
  if (lot == nullptr) return UnknownSubject("lot", id.bytes);
  if (ActsFor(c, lot->owner) || ActsFor(c, lot->holder)) return std::nullopt;
  return Void("NOT_HOLDER",
              fmt::format("{} is owned by {} and held by {}, not by you", NameOf(*lot),
                          NameOf(c, lot->owner), NameOf(c, lot->holder)));
}

// Slings go back while they are where the clutch is, to a clutch that somebody else shares.
Finding CheckReturn(Case& c, const Lot& lot, const Clutch& clutch) {
  if (lot.holder != clutch.holder) {
    return Refused("LOT_HANDED_OVER",
                   fmt::format("{} was handed over to {} already; give its slings to a keeper "
                               "instead",
                               NameOf(lot), NameOf(c, lot.holder)));
  }
  const auto has_share = [&](const PartyShare& share) { return share.receiver == lot.owner; };
  if (std::ranges::none_of(clutch.parties, has_share)) {
    return Void("NOT_PARTY", fmt::format("{} has no share of {}; give the slings to a keeper "
                                         "instead",
                                         NameOf(c, lot.owner), NameOf(clutch)));
  }
  const auto takes = [&](const PartyShare& share) {
    return share.receiver != lot.owner && !share.waived;
  };
  if (std::ranges::any_of(clutch.parties, takes)) return std::nullopt;
  return Refused("LAST_SHARE",
                 fmt::format("nobody else is left to share {}; pass the slings on to a keeper",
                             NameOf(clutch)));
}

Finding CheckMerged(Case& c, const Lot& target, const facts::LotMerging& s) {
  for (std::size_t i = 0; i < s.merged.size(); ++i) {
    const Lot* lot = c.state.Find<Lot>(s.merged[i]);
    if (lot == nullptr) return UnknownSubject("lot", s.merged[i].bytes);
    const auto before = s.merged.begin() + static_cast<std::ptrdiff_t>(i);
    if (lot->id == target.id || std::find(s.merged.begin(), before, lot->id) != before) {
      return Refused("LOT_TWICE", fmt::format("{} is named twice", NameOf(*lot)));
    }
    if (Finding f = CheckSettled(c, *lot)) return f;
    if (Finding f = CheckSlingsFree(c, *lot, lot->slings)) return f;
    if (Finding f = CheckRoom(lot->events.size(), "events")) return f;
    if (lot->clutch != target.clutch || lot->owner != target.owner ||
        lot->holder != target.holder) {
      return Refused("LOTS_DIFFER", fmt::format("{} and {} differ in clutch, owner or holder",
                                                NameOf(*lot), NameOf(target)));
    }
  }
  return CheckRoom(target.events.size() + s.merged.size() - 1, "events");
}

}  // namespace

Finding Apply(Case& c, const facts::LotReturn& s) {
  if (Finding f = CheckOwner(c, s.lot)) return f;
  const Lot* before = c.state.Find<Lot>(s.lot);
  if (Finding f = CheckSettled(c, *before)) return f;
  if (Finding f = CheckReturn(c, *before, Known<Clutch>(c, before->clutch))) return f;
  if (Finding f = CheckSlings(*before, s.slings)) return f;
  if (Finding f = CheckSlingsFree(c, *before, s.slings)) return f;
  if (Finding f = CheckRoom(before->events.size(), "events")) return f;
  const std::vector<SlingEvent>& events = Known<Clutch>(c, before->clutch).events;
  if (Finding f = CheckShareOfRoom(c, events, "events")) return f;

  FlagFuture(c, s.day);
  Lot& lot = c.state.Edit<Lot>(s.lot);
  Clutch& clutch = c.state.Edit<Clutch>(lot.clutch);
  SlingEvent event{.kind = SlingEventKind::kReturned,
                   .day = s.day,
                   .slings = s.slings,
                   .words = s.reason,
                   .entry = c.entry};
  lot.slings -= s.slings;
  SpendLease(c, lot, s.slings);
  lot.events.push_back(event);
  event.lot = s.lot;
  event.keeper = lot.owner;
  clutch.events.push_back(event);
  clutch.accounts.in_lots -= s.slings;
  clutch.accounts.undivided += s.slings;
  std::uint32_t back = s.slings;
  for (PartyShare& share : clutch.parties) {
    if (share.receiver != lot.owner) continue;
    share.waived = true;
    const std::uint32_t taken = std::min(back, share.credited);
    share.credited -= taken;
    back -= taken;
  }
  CheckBooks(c, clutch.accounts);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LotPassing& s) {
  if (Finding f = CheckOwner(c, s.lot)) return f;
  const Lot* lot = c.state.Find<Lot>(s.lot);
  if (!IsKeeper(c, s.receiver)) return UnknownSubject("keeper", s.receiver.bytes);
  if (s.receiver == lot->owner) {
    return Refused("RECEIVER_IS_GIVER",
                   fmt::format("{} is {}'s already", NameOf(*lot), NameOf(c, lot->owner)));
  }
  const Taking taking{.lot = s.lot,
                      .new_lot = s.new_lot,
                      .owner = s.receiver,
                      .slings = s.slings,
                      .kind = SlingEventKind::kPassed,
                      .day = s.day};
  if (Finding f = CheckTaking(c, taking)) return f;
  if (Finding f = CheckSlingsFree(c, *lot, s.slings)) return f;
  FlagFuture(c, s.day);
  Take(c, taking);
  SpendLease(c, c.state.Edit<Lot>(s.lot), s.slings);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LotDivision& s) {
  if (Finding f = CheckOwnerOrHolder(c, s.lot)) return f;
  const Taking taking{.lot = s.lot,
                      .new_lot = s.new_lot,
                      .owner = Known<Lot>(c, s.lot).owner,
                      .slings = s.slings,
                      .kind = SlingEventKind::kDivided,
                      .day = s.day};
  if (Finding f = CheckTaking(c, taking)) return f;
  if (Finding f = CheckSlingsFree(c, Known<Lot>(c, s.lot), s.slings)) return f;
  FlagFuture(c, s.day);
  Take(c, taking);
  SpendLease(c, c.state.Edit<Lot>(s.lot), s.slings);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LotMerging& s) {
  if (Finding f = CheckOwnerOrHolder(c, s.lot)) return f;
  const Lot* target = c.state.Find<Lot>(s.lot);
  if (Finding f = CheckSettled(c, *target)) return f;
  if (Finding f = CheckMerged(c, *target, s)) return f;
  FlagFuture(c, s.day);
  Lot& lot = c.state.Edit<Lot>(s.lot);
  for (const LotId& id : s.merged) {
    Lot& merged = c.state.Edit<Lot>(id);
    SlingEvent event{.kind = SlingEventKind::kMergedInto,
                     .day = s.day,
                     .slings = merged.slings,
                     .lot = s.lot,
                     .entry = c.entry};
    merged.events.push_back(event);
    event.kind = SlingEventKind::kMerged;
    event.lot = id;
    lot.events.push_back(event);
    lot.slings += merged.slings;
    merged.slings = 0;
    merged.leases.clear();
  }
  return std::nullopt;
}

Finding Award(Case& c, const ClutchId& clutch, const std::vector<KeeperId>& parties,
              const facts::LotMove& move) {
  const Lot* lot = c.state.Find<Lot>(move.lot);
  if (lot == nullptr) return UnknownSubject("lot", move.lot.bytes);
  if (!IsKeeper(c, move.keeper)) return UnknownSubject("keeper", move.keeper.bytes);
  if (lot->clutch != clutch) {
    return Refused("LOT_OF_OTHER_CLUTCH", fmt::format("{} is of another clutch", NameOf(*lot)));
  }
  if (std::ranges::find(parties, lot->owner) == parties.end()) {
    return Refused("NOT_OWNER", fmt::format("{} is owned by {}, whom this does not bind",
                                            NameOf(*lot), NameOf(c, lot->owner)));
  }
  const Taking taking{.lot = move.lot,
                      .new_lot = move.new_lot,
                      .owner = move.keeper,
                      .slings = move.slings,
                      .kind = SlingEventKind::kAwarded,
                      .day = {}};
  if (Finding f = CheckTaking(c, taking)) return f;
  Take(c, taking);
  return std::nullopt;
}

}  // namespace broodpact::registry
