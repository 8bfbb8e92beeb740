// Lots of slings: LotDispatch, LotReceipt, LotLoss, LotRaising.

#include <algorithm>
#include <limits>

#include "fmt/core.h"

#include "client/registry/internal/leases.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding CheckHolder(Case& c, const LotId& id) {
  const Lot* lot = c.state.Find<Lot>(id);
  if (lot == nullptr) return UnknownSubject("lot", id.bytes);
  if (ActsFor(c, lot->holder)) return std::nullopt;
  return Void("NOT_HOLDER",
              fmt::format("{} is held by {}, not by you", NameOf(*lot), NameOf(c, lot->holder)));
}

// Who may be sent slings of this lot, by whom.
Finding CheckReceiver(Case& c, const Lot& lot, const KeeperId& receiver) {
  if (!IsKeeper(c, receiver)) return UnknownSubject("keeper", receiver.bytes);
  if (receiver == lot.holder) {
    return Refused("RECEIVER_HOLDS",
                   fmt::format("{} has {} already", NameOf(c, receiver), NameOf(lot)));
  }
  if (receiver == lot.owner || lot.owner == lot.holder) return std::nullopt;
  return Void("NOT_OWNER", fmt::format("{} is owned by {}; you may only send it there", NameOf(lot),
                                       NameOf(c, lot.owner)));
}

// Whether the books of a clutch can hold a receipt; counts are small, but a liar's are not.
bool FitsBooks(const Accounts& accounts, const Lot& parcel, const facts::LotReceipt& s) {
  constexpr std::int64_t kMax = std::numeric_limits<std::int32_t>::max() / 2;
  const std::int64_t in_lots = std::int64_t{accounts.in_lots} + s.slings_living;
  const std::int64_t dead = std::int64_t{accounts.dead} + s.slings_dead;
  const std::int64_t unaccounted =
      std::int64_t{accounts.unaccounted} + parcel.slings - s.slings_living - s.slings_dead;
  return in_lots <= kMax && dead <= kMax && unaccounted >= -kMax && unaccounted <= kMax;
}

Finding CheckReceipt(Case& c, const facts::LotReceipt& s) {
  const Lot* parcel = c.state.Find<Lot>(s.parcel);
  if (parcel == nullptr) return UnknownSubject("lot", s.parcel.bytes);
  if (!parcel->dispatch.has_value()) {
    return Refused("NOT_A_PARCEL", fmt::format("{} was not sent to anybody", NameOf(*parcel)));
  }
  if (parcel->receipt.has_value() && ActsFor(c, parcel->owner)) {
    return Superseded("ALREADY_RECEIVED", fmt::format("{} was received before", NameOf(*parcel)),
                      parcel->receipt_arrival);
  }
  if (!ActsFor(c, parcel->receiver)) {
    return Void("NOT_RECEIVER", fmt::format("{} was not sent to you", NameOf(*parcel)));
  }
  if (!FitsBooks(Known<Clutch>(c, parcel->clutch).accounts, *parcel, s)) {
    return Refused("COUNT_OUT_OF_RANGE", "no clutch has so many slings");
  }
  return std::nullopt;
}

// The parcel made good had dead arrivals that are not made good yet, and goes to who had them.
Finding CheckReplaced(Case& c, const facts::LotDispatch& s) {
  if (s.replaced.empty()) return std::nullopt;
  const Lot* replaced = c.state.Find<Lot>(s.replaced);
  if (replaced == nullptr) return UnknownSubject("lot", s.replaced.bytes);
  if (Known<Lot>(c, s.lot).owner == s.receiver) {
    return Refused("NOTHING_TO_REPLACE",
                   fmt::format("those slings are {}'s own, and make nothing good to {}",
                               NameOf(c, s.receiver), NameOf(c, s.receiver)));
  }
  if (replaced->owner == s.receiver && replaced->dead_on_arrival > replaced->made_good) {
    return std::nullopt;
  }
  return Refused("NOTHING_TO_REPLACE",
                 fmt::format("no dead arrivals of {} wait to be made good to {}", NameOf(*replaced),
                             NameOf(c, s.receiver)));
}

// Books what arrived against the dead arrivals of the parcel that it makes good.
void MakeGood(Case& c, const LotId& replaced, std::uint32_t slings) {
  if (c.state.Find<Lot>(replaced) == nullptr) return;
  Lot& lot = c.state.Edit<Lot>(replaced);
  const std::uint32_t good = std::min(slings, lot.dead_on_arrival - lot.made_good);
  if (good == 0 || lot.events.size() >= kRecordsMax) return;
  lot.made_good += good;
  lot.events.push_back({.kind = SlingEventKind::kReplaced, .slings = good, .entry = c.entry});
}

void CountLot(Clutch& clutch, const KeeperId& maker) {
  const auto made = std::ranges::find(clutch.lots_made, maker, &LotsMade::keeper);
  if (made == clutch.lots_made.end()) {
    clutch.lots_made.push_back({.keeper = maker, .lots = 1});
  } else {
    ++made->lots;
  }
}

}  // namespace

Finding CheckSettled(Case& c, const Lot& lot) {
  if (lot.receiver.empty()) return std::nullopt;
  return Refused("LOT_UNDER_WAY", fmt::format("{} is on its way to {}, who has to receive it first",
                                              NameOf(lot), NameOf(c, lot.receiver)));
}

Finding CheckSlings(const Lot& lot, std::uint32_t slings) {
  if (slings == 0) return Refused("NO_SLINGS", "that is of no sling");
  if (slings <= lot.slings) return std::nullopt;
  return Refused("INSUFFICIENT",
                 fmt::format("{} had {}, asked {}", NameOf(lot), lot.slings, slings));
}

Finding CheckTaking(Case& c, const Taking& taking) {
  const Lot* lot = c.state.Find<Lot>(taking.lot);
  if (lot == nullptr) return UnknownSubject("lot", taking.lot.bytes);
  if (c.state.Find<Lot>(taking.new_lot) != nullptr) return IdTaken("lot", taking.new_lot.bytes);
  if (Finding f = CheckSettled(c, *lot)) return f;
  if (Finding f = CheckSlings(*lot, taking.slings)) return f;
  if (Finding f = CheckRoom(lot->events.size(), "events")) return f;
  const Clutch& clutch = Known<Clutch>(c, lot->clutch);
  const auto made = std::ranges::find(clutch.lots_made, c.author(), &LotsMade::keeper);
  return CheckShareOfRoom(made == clutch.lots_made.end() ? 0 : made->lots, clutch.lots.size(),
                          "lots");
}

Lot& Take(Case& c, const Taking& taking) {
  Lot& taken = c.state.Create<Lot>(taking.new_lot);
  Lot& lot = c.state.Edit<Lot>(taking.lot);
  lot.slings -= taking.slings;
  lot.events.push_back({.kind = taking.kind,
                        .day = taking.day,
                        .slings = taking.slings,
                        .lot = taking.new_lot,
                        .keeper = taking.owner,
                        .entry = c.entry});
  taken.clutch = lot.clutch;
  taken.owner = taking.owner;
  taken.holder = lot.holder;
  taken.slings = taking.slings;
  taken.source = taking.lot;
  taken.events.push_back({.kind = SlingEventKind::kTaken,
                          .day = taking.day,
                          .slings = taking.slings,
                          .lot = taking.lot,
                          .entry = c.entry});
  taken.entry = c.entry;
  Clutch& clutch = c.state.Edit<Clutch>(lot.clutch);
  clutch.lots.push_back(taking.new_lot);
  CountLot(clutch, c.author());
  return taken;
}

Finding Apply(Case& c, const facts::LotDispatch& s) {
  if (Finding f = CheckHolder(c, s.lot)) return f;
  const Lot* lot = c.state.Find<Lot>(s.lot);
  const Taking taking{.lot = s.lot,
                      .new_lot = s.parcel,
                      .owner = lot->owner,
                      .slings = s.slings,
                      .kind = SlingEventKind::kSent,
                      .day = s.day};
  if (c.state.Find<Lot>(s.parcel) != nullptr) return IdTaken("lot", s.parcel.bytes);
  if (Finding f = CheckSettled(c, *lot)) return f;
  if (Finding f = CheckReceiver(c, *lot, s.receiver)) return f;
  if (Finding f = CheckTaking(c, taking)) return f;
  if (Finding f = CheckSlingsFree(c, *lot, s.slings)) return f;
  if (Finding f = CheckReplaced(c, s)) return f;

  FlagFuture(c, s.day);
  Lot& parcel = Take(c, taking);
  Lot& sent = c.state.Edit<Lot>(s.lot);
  sent.events.back().keeper = s.receiver;
  SpendLease(c, sent, s.slings);
  parcel.receiver = s.receiver;
  parcel.slings_dispatched = s.slings;
  parcel.dispatch = s.day;
  parcel.replaces = s.replaced;
  parcel.sender = parcel.holder;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LotReceipt& s) {
  if (Finding f = CheckReceipt(c, s)) return f;
  if (Finding f = CheckRoom(Known<Lot>(c, s.parcel).events.size(), "events")) return f;
  FlagFuture(c, s.day);
  Lot& parcel = c.state.Edit<Lot>(s.parcel);
  Accounts& accounts = c.state.Edit<Clutch>(parcel.clutch).accounts;
  const std::int64_t missing = std::int64_t{parcel.slings} - s.slings_living - s.slings_dead;
  if (missing != 0) {
    Flag(c, "FLAG_UNACCOUNTED",
         fmt::format("{} slings were to arrive and {} did, alive or dead; the difference is booked "
                     "as unaccounted",
                     parcel.slings, std::int64_t{s.slings_living} + s.slings_dead));
  }
  accounts.in_lots = accounts.in_lots - parcel.slings + s.slings_living;
  accounts.dead += s.slings_dead;
  accounts.unaccounted += static_cast<std::int32_t>(missing);
  CheckBooks(c, accounts);
  parcel.slings = s.slings_living;
  parcel.dead += s.slings_dead;
  parcel.dead_on_arrival += s.slings_dead;
  parcel.events.push_back({.kind = SlingEventKind::kReceived,
                           .day = s.day,
                           .slings = s.slings_living,
                           .dead = s.slings_dead,
                           .entry = c.entry});
  parcel.owner = c.author();
  parcel.holder = c.author();
  parcel.receiver = {};
  parcel.receipt = s.day;
  parcel.receipt_arrival = c.entry.arrival;
  if (!parcel.replaces.empty()) MakeGood(c, parcel.replaces, s.slings_living);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LotLoss& s) {
  if (Finding f = CheckHolder(c, s.lot)) return f;
  const Lot* before = c.state.Find<Lot>(s.lot);
  if (Finding f = CheckSlings(*before, s.slings)) return f;
  if (Finding f = CheckRoom(before->events.size(), "events")) return f;
  FlagFuture(c, s.day);
  Lot& lot = c.state.Edit<Lot>(s.lot);
  Accounts& accounts = c.state.Edit<Clutch>(lot.clutch).accounts;
  lot.slings -= s.slings;
  lot.dead += s.slings;
  lot.events.push_back({.kind = SlingEventKind::kLost,
                        .day = s.day,
                        .slings = s.slings,
                        .words = s.cause,
                        .entry = c.entry});
  accounts.in_lots -= s.slings;
  accounts.dead += s.slings;
  CheckBooks(c, accounts);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LotRaising& s) {
  if (Finding f = CheckHolder(c, s.lot)) return f;
  const Lot* before = c.state.Find<Lot>(s.lot);
  if (!ActsFor(c, before->owner)) {
    return Void("NOT_OWNER", fmt::format("{} is owned by {}, not by you", NameOf(*before),
                                         NameOf(c, before->owner)));
  }
  if (c.state.Find<Animal>(s.animal) != nullptr) return IdTaken("animal", s.animal.bytes);
  if (Finding f = CheckSettled(c, *before)) return f;
  if (Finding f = CheckSlings(*before, 1)) return f;
  if (Finding f = CheckSlingsFree(c, *before, 1)) return f;
  if (Finding f = CheckRoom(before->events.size(), "events")) return f;
  if (Finding f = CheckAnimalName(c, s.name)) return f;
  const ClutchId clutch_id = before->clutch;
  if (Finding f = CheckRoom(Known<Clutch>(c, clutch_id).raised.size(), "animals raised")) return f;
  const AnimalId dam = Known<Clutch>(c, clutch_id).female;

  FlagFuture(c, s.day);
  // Its possible sires follow from the clutch: none is stated.
  Animal& animal = EnterAnimal(c, {.animal = s.animal,
                                   .group = Known<Animal>(c, dam).group,
                                   .name = s.name,
                                   .sex = s.sex,
                                   .sex_day = s.day});
  animal.dam = dam;
  animal.clutch = clutch_id;
  NoteDescent(c, s.animal);
  Lot& lot = c.state.Edit<Lot>(s.lot);
  lot.slings -= 1;
  SpendLease(c, lot, 1);
  lot.raised += 1;
  lot.events.push_back({.kind = SlingEventKind::kRaised,
                        .day = s.day,
                        .slings = 1,
                        .animal = s.animal,
                        .entry = c.entry});
  Accounts& accounts = c.state.Edit<Clutch>(clutch_id).accounts;
  accounts.in_lots -= 1;
  accounts.raised += 1;
  CheckBooks(c, accounts);
  return std::nullopt;
}

}  // namespace broodpact::registry
