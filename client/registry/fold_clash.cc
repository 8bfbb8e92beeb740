// Clashes that people bring and end: Objection, ClashWithdrawal, ClashSettlement, ClashSignature.

#include <algorithm>
#include <cstddef>
#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

Finding CheckOpen(Case& c, const ClashId& id) {
  const Clash* clash = c.state.Find<Clash>(id);
  if (clash == nullptr) return UnknownSubject("clash", id.bytes);
  if (clash->state == ClashState::kOpen) return std::nullopt;
  return Superseded("CLASH_ENDED",
                    fmt::format("the clash was {} by {} before",
                                clash->state == ClashState::kSettled ? "settled" : "withdrawn",
                                NameOf(c, clash->ended.keeper)),
                    clash->ended.arrival);
}

// Who settles a clash: its parties of the day on which it was opened, and whom the clutch concerns
// now, for whom its slings may have become meanwhile. Each once, the first ones first.
std::vector<KeeperId> SettlersOf(Case& c, const Clash& clash) {
  std::vector<KeeperId> settlers = clash.parties;
  if (clash.subject_kind != Kind::kClutch) return settlers;
  for (const KeeperId& keeper : ConcernedBy(Known<Clutch>(c, clash.subject))) {
    const bool known = std::ranges::find(settlers, keeper) != settlers.end();
    if (!known && !keeper.empty()) settlers.push_back(keeper);
  }
  return settlers;
}

// Those of them that the author is, or acts for.
std::vector<KeeperId> SeatsOf(Case& c, const std::vector<KeeperId>& settlers) {
  std::vector<KeeperId> seats;
  for (const KeeperId& party : settlers) {
    if (ActsFor(c, party)) seats.push_back(party);
  }
  return seats;
}

bool IsComplete(const SettlementRecord& settlement, const std::vector<KeeperId>& settlers) {
  return std::ranges::all_of(
      settlers, [&](const KeeperId& settler) { return HasSigned(settlement.signatures, settler); });
}

bool IsRegistrar(Case& c) {
  return Known<Keeper>(c, c.author()).role == facts::Role::kRegistrar;
}

void EndClash(Case& c, const ClashId& id, ClashState state, const std::string& words) {
  Clash& clash = c.state.Edit<Clash>(id);
  clash.state = state;
  clash.outcome = words;
  clash.ended = c.entry;
  if (clash.subject_kind != Kind::kClutch) return;
  Clutch& clutch = c.state.Edit<Clutch>(clash.subject);
  if (clash.reason == "OBJECTION") clutch.objections_open -= 1;
  // Who takes an objection to a rival count back leaves that count as it is.
  if (clash.reason == "OBJECTION" && state == ClashState::kWithdrawn) return;
  for (CountRecord& count : clutch.counts) {
    const bool is_rival = count.state == CountState::kRival && count.token == clash.count_token;
    if (is_rival) count.state = CountState::kSetAside;
  }
}

// What a settlement changes beside ending the clash. It binds `settlers`, who have signed it or let
// it be decided: whom the shares that it gives make a party has done neither.
Finding CarryOut(Case& c, const ClashId& id, const SettlementRecord& settlement,
                 const std::vector<KeeperId>& settlers) {
  const Clash& clash = Known<Clash>(c, id);
  ClutchId clutch;
  clutch.bytes = clash.subject;
  if (!settlement.count_token.empty()) {
    if (Finding f = AdoptCount(c, clutch, settlement.count_token)) return f;
  }
  if (!settlement.shares.empty()) {
    if (Finding f = ShareOutAsAgreed(c, clutch, settlement.shares)) return f;
  }
  for (const facts::LotMove& move : settlement.moves) {
    if (Finding f = Award(c, clutch, settlers, move)) return f;
  }
  return std::nullopt;
}

Finding Settle(Case& c, const ClashId& id, const SettlementRecord& settlement,
               const std::vector<KeeperId>& settlers) {
  if (Finding f = CarryOut(c, id, settlement, settlers)) return f;
  EndClash(c, id, ClashState::kSettled, settlement.words);
  return std::nullopt;
}

void Sign(const Case& c, SettlementRecord& settlement, const std::vector<KeeperId>& seats) {
  for (const KeeperId& seat : seats) {
    if (!HasSigned(settlement.signatures, seat)) {
      settlement.signatures.push_back({.keeper = seat, .entry = c.entry});
    }
  }
}

Finding CheckSettlement(Case& c, const facts::ClashSettlement& s, const Clash& clash) {
  const bool has_content = !s.count_token.empty() || !s.shares.empty() || !s.moves.empty();
  if (has_content && clash.subject_kind != Kind::kClutch) {
    return Refused("SETTLEMENT_FORM",
                   "only a clash about a clutch is settled by counts, shares or slings");
  }
  if (std::ranges::find(clash.settlements, c.token, &SettlementRecord::token) !=
      clash.settlements.end()) {
    return Refused("SETTLEMENT_TWICE", "one commit proposes one settlement of a clash");
  }
  if (s.count_token.empty()) return std::nullopt;
  const Clutch& clutch = Known<Clutch>(c, clash.subject);
  if (std::ranges::find(clutch.counts, s.count_token, &CountRecord::token) != clutch.counts.end()) {
    return std::nullopt;
  }
  return Refused("UNKNOWN_COUNT", fmt::format("{} has no such count", NameOf(clutch)));
}

// A party proposes so many times: what others propose, and an arbiter's decision, find room.
Finding CheckProposals(Case& c, const Clash& clash) {
  const auto own = std::ranges::count_if(clash.settlements, [&](const SettlementRecord& one) {
    return one.entry.keeper == c.author();
  });
  if (own < std::ptrdiff_t{kSettlementsOfOneMax}) return std::nullopt;
  return Refused(
      "TOO_MANY_RECORDS",
      fmt::format("you have proposed {} settlements, and have no room for more; sign one "
                  "of them, or ask a registrar",
                  own));
}

// What is objected to, in words, and the place in the log of who stated it.
Finding FindObjected(Case& c, const facts::Objection& s, const Clutch& clutch, std::string& what,
                     std::uint64_t& arrival) {
  if (clutch.counts.empty()) {
    return Refused("NOT_COUNTED", fmt::format("{} has no count; count it first", NameOf(clutch)));
  }
  if (s.count_token.empty()) {
    what = fmt::format("the split of {}", NameOf(clutch));
    arrival = clutch.split.arrival;
    return std::nullopt;
  }
  const auto count = std::ranges::find(clutch.counts, s.count_token, &CountRecord::token);
  if (count == clutch.counts.end()) {
    return Refused("UNKNOWN_COUNT", fmt::format("{} has no such count", NameOf(clutch)));
  }
  what = fmt::format("{}'s count of {} living of {}", NameOf(c, count->entry.keeper),
                     count->slings_living, NameOf(clutch));
  arrival = count->entry.arrival;
  return std::nullopt;
}

}  // namespace

Finding Apply(Case& c, const facts::Objection& s) {
  const Clutch* clutch = c.state.Find<Clutch>(s.clutch);
  if (clutch == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  if (!ActsForParty(c, *clutch) && !ActsFor(c, clutch->owner) && !ActsFor(c, clutch->holder)) {
    return Void("NOT_PARTY", fmt::format("you have no part in {}", NameOf(*clutch)));
  }
  if (Finding f = CheckRoom(clutch->objections_open, "open objections")) return f;
  std::string what;
  std::uint64_t arrival = 0;
  if (Finding f = FindObjected(c, s, *clutch, what, arrival)) return f;
  std::vector<KeeperId> parties = ConcernedBy(*clutch);
  parties.insert(parties.begin(), c.author());
  Clash clash = ClashOf(
      c, {.kind = Kind::kClutch,
          .subject = s.clutch.bytes,
          .reason = "OBJECTION",
          .message = fmt::format("{} objects to {}: {}", NameOf(c, c.author()), what, s.reason),
          .parties = std::move(parties),
          .winner_arrival = arrival});
  if (c.state.Find<Clash>(clash.id) != nullptr) {
    return Refused("OBJECTION_TWICE",
                   fmt::format("one commit objects once to {}", NameOf(*clutch)));
  }
  FlagFuture(c, s.day);
  clash.count_token = s.count_token;
  c.state.Edit<Clutch>(s.clutch).objections_open += 1;
  c.state.Create<Clash>(clash.id) = clash;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::ClashWithdrawal& s) {
  if (Finding f = CheckOpen(c, s.clash)) return f;
  const Clash* clash = c.state.Find<Clash>(s.clash);
  if (!ActsFor(c, clash->entry.keeper)) {
    return Void("NOT_AUTHOR",
                fmt::format("{} stated that, and may withdraw it", NameOf(c, clash->entry.keeper)));
  }
  if (clash->reason != "OBJECTION" && clash->reason != "COUNT_RIVAL") {
    return Refused("NOT_WITHDRAWABLE",
                   "an objection or a rival count is withdrawn; settle this with the others");
  }
  EndClash(c, s.clash, ClashState::kWithdrawn, s.reason);
  return std::nullopt;
}

Finding Apply(Case& c, const facts::ClashSettlement& s) {
  if (Finding f = CheckOpen(c, s.clash)) return f;
  const Clash* clash = c.state.Find<Clash>(s.clash);
  const std::vector<KeeperId> settlers = SettlersOf(c, *clash);
  const std::vector<KeeperId> seats = SeatsOf(c, settlers);
  const bool arbitrates = seats.empty() && IsRegistrar(c);
  if (seats.empty() && !arbitrates) {
    return Void("NOT_PARTY", "a party of the clash settles it, or a registrar who is none");
  }
  if (Finding f = CheckSettlement(c, s, *clash)) return f;
  if (!arbitrates) {
    if (Finding f = CheckProposals(c, *clash)) return f;
  }
  SettlementRecord settlement{.token = c.token,
                              .words = s.words,
                              .count_token = s.count_token,
                              .shares = s.shares,
                              .moves = s.moves,
                              .entry = c.entry};
  Sign(c, settlement, seats);
  const bool complete = arbitrates || IsComplete(settlement, settlers);
  Clash& edited = c.state.Edit<Clash>(s.clash);
  edited.parties = settlers;  // whom it has come to concern is shown it
  edited.settlements.push_back(settlement);
  return complete ? Settle(c, s.clash, settlement, settlers) : std::nullopt;
}

Finding Apply(Case& c, const facts::ClashSignature& s) {
  if (Finding f = CheckOpen(c, s.clash)) return f;
  const Clash* clash = c.state.Find<Clash>(s.clash);
  const std::vector<KeeperId> settlers = SettlersOf(c, *clash);
  const std::vector<KeeperId> seats = SeatsOf(c, settlers);
  if (seats.empty()) return Void("NOT_PARTY", "you are no party of that clash");
  const auto found = std::ranges::find(clash->settlements, s.settlement, &SettlementRecord::token);
  if (found == clash->settlements.end()) {
    return Refused("UNKNOWN_SETTLEMENT", "no such settlement of that clash was proposed");
  }
  const auto place = static_cast<std::size_t>(found - clash->settlements.begin());
  Clash& edited = c.state.Edit<Clash>(s.clash);
  edited.parties = settlers;
  Sign(c, edited.settlements[place], seats);
  if (!IsComplete(edited.settlements[place], settlers)) return std::nullopt;
  const SettlementRecord settlement = edited.settlements[place];
  return Settle(c, s.clash, settlement, settlers);
}

}  // namespace broodpact::registry
