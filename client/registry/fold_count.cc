// Slings counted: Count, and which count stands.

#include <algorithm>
#include <limits>
#include <utility>

#include "fmt/core.h"

#include "client/base/check.h"
#include "client/registry/internal/basis.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

CountRecord RecordOf(const Case& c, const facts::Count& s, CountState state) {
  return {.token = c.token,
          .day = s.day,
          .slings_living = s.slings_living,
          .slings_dead = s.slings_dead,
          .moult_count = s.moult_count,
          .state = state,
          .entry = c.entry};
}

Finding CheckCounter(Case& c, const Clutch& clutch) {
  if (ActsFor(c, clutch.owner) || ActsFor(c, clutch.holder)) return std::nullopt;
  if (ActsForParty(c, clutch)) return std::nullopt;
  return Void(
      "NOT_YOUR_CLUTCH",
      fmt::format("{} is owned by {} and held by {}; they, or a party of its loan, count it",
                  NameOf(clutch), NameOf(c, clutch.owner), NameOf(c, clutch.holder)));
}

// A count that found what the standing one had found: it is kept, and nothing has to be settled.
Finding CountSame(Case& c, const facts::Count& s, const CountRecord& standing) {
  Flag(
      c, "FLAG_COUNT_SAME",
      fmt::format("{} found the same before; that count stands", NameOf(c, standing.entry.keeper)));
  c.state.Edit<Clutch>(s.clutch).counts.push_back(RecordOf(c, s, CountState::kSame));
  return std::nullopt;
}

// A count beside a standing one that it does not replace.
Finding Rival(Case& c, const facts::Count& s, const Clutch& clutch, const CountRecord& standing) {
  const std::string message = fmt::format(
      "{} was counted by {} before ({} living); your count of {} is kept beside it; agree on one "
      "of them, or count again naming that count",
      NameOf(clutch), NameOf(c, standing.entry.keeper), standing.slings_living, s.slings_living);
  std::vector<KeeperId> parties = ConcernedBy(clutch);
  parties.insert(parties.begin(), {c.author(), standing.entry.keeper});
  c.aftermath.rival = {.clutch = clutch.id, .count = RecordOf(c, s, CountState::kRival)};
  c.aftermath.clash = ClashOf(c, {.kind = Kind::kClutch,
                                  .subject = clutch.id.bytes,
                                  .reason = "COUNT_RIVAL",
                                  .message = message,
                                  .parties = std::move(parties),
                                  .winner_arrival = standing.entry.arrival});
  c.aftermath.clash->count_token = c.token;
  return Superseded("COUNT_RIVAL", message, standing.entry.arrival);
}

void CountFirst(Case& c, const facts::Count& s, const Clutch& before) {
  if (before.loss.has_value()) {
    Flag(c, "FLAG_COUNT_AFTER_LOSS",
         fmt::format("{} was recorded as lost on {}; the count clears that", NameOf(before),
                     ToText(*before.loss)));
  }
  if (!s.count_token.empty()) {
    Flag(c, "FLAG_COUNT_BASE_UNKNOWN",
         fmt::format("the count of {} that this one replaces did not count; it stands as the first",
                     NameOf(before)));
  }
  Clutch& clutch = c.state.Edit<Clutch>(s.clutch);
  clutch.loss.reset();
  clutch.loss_cause.clear();
  clutch.counts.push_back(RecordOf(c, s, CountState::kStanding));
  clutch.accounts.hatched = s.slings_living + s.slings_dead;
  clutch.accounts.undivided = s.slings_living;
  clutch.accounts.dead = s.slings_dead;
  CheckBooks(c, clutch.accounts);
  if (s.slings_living > 0) TakeNumberAgain(c, s.clutch);
}

// Books what a count changed. More than ever counted before is what has hatched; what is missing is
// unaccounted for, openly. Dead slings come from counts and receipts within their bounds, so that
// all of it fits.
void Balance(Accounts& accounts) {
  const std::int64_t accounted =
      std::int64_t{accounts.undivided} + accounts.in_lots + accounts.dead + accounts.raised;
  const std::int64_t hatched = std::max(std::int64_t{accounts.hatched}, accounted);
  accounts.hatched = static_cast<std::uint32_t>(hatched);
  accounts.unaccounted = static_cast<std::int32_t>(hatched - accounted);
}

Finding Recount(Case& c, const facts::Count& s, const Clutch& before) {
  const std::uint32_t in_lots = before.accounts.in_lots;
  if (s.slings_living < in_lots) {
    return Refused("COUNT_TOO_LOW",
                   fmt::format("{} slings of {} are in lots, handed over or waiting to be, more "
                               "than the {} counted; enter the losses by lot",
                               in_lots, NameOf(before), s.slings_living));
  }
  Clutch& clutch = c.state.Edit<Clutch>(s.clutch);
  for (CountRecord& count : clutch.counts) {
    if (count.state == CountState::kStanding) count.state = CountState::kReplaced;
  }
  clutch.counts.push_back(RecordOf(c, s, CountState::kStanding));
  Accounts& accounts = clutch.accounts;
  accounts.undivided = s.slings_living - in_lots;
  // As long as nothing was handed out, the dead are those of counts alone, and the new one says it.
  accounts.dead = clutch.lots.empty() ? s.slings_dead : std::max(accounts.dead, s.slings_dead);
  Balance(accounts);
  CheckBooks(c, accounts);
  if (s.slings_living > 0) TakeNumberAgain(c, s.clutch);
  return std::nullopt;
}

}  // namespace

const CountRecord* StandingCount(const Clutch& clutch) {
  for (const CountRecord& count : clutch.counts) {
    if (count.state == CountState::kStanding) return &count;
  }
  return nullptr;
}

void CheckBooks(Case& c, const Accounts& accounts) {
  // What a failing source left out cannot add up.
  if (!c.state.source_status().ok()) return;
  const std::int64_t accounted = std::int64_t{accounts.undivided} + accounts.in_lots +
                                 accounts.dead + accounts.raised + accounts.unaccounted;
  BP_CHECK(accounted == std::int64_t{accounts.hatched});
}

Finding Apply(Case& c, const facts::Count& s) {
  const Clutch* clutch = c.state.Find<Clutch>(s.clutch);
  if (clutch == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  if (Finding f = CheckCounter(c, *clutch)) return f;
  if (Finding f = CheckShareOfRoom(c, clutch->counts, "counts")) return f;
  if (s.slings_living > facts::kSlingsMax || s.slings_dead > facts::kSlingsMax) {
    return Refused("COUNT_OUT_OF_RANGE",
                   fmt::format("no clutch has more than {} slings", facts::kSlingsMax));
  }
  FlagFuture(c, s.day);
  FlagCounter(c, *clutch);
  const CountRecord* standing = StandingCount(*clutch);
  if (standing == nullptr) {
    CountFirst(c, s, *clutch);
    return std::nullopt;
  }
  if (standing->token == c.token) {
    return Refused("COUNT_TWICE", fmt::format("one commit counts {} once", NameOf(*clutch)));
  }
  if (standing->token != s.count_token) {
    const bool same =
        standing->slings_living == s.slings_living && standing->slings_dead == s.slings_dead;
    return same ? CountSame(c, s, *standing) : Rival(c, s, *clutch, *standing);
  }
  return Recount(c, s, *clutch);
}

Finding AdoptCount(Case& c, const ClutchId& id, const Token& count_token) {
  constexpr std::int64_t kMax = std::numeric_limits<std::int32_t>::max() / 2;
  Clutch& clutch = c.state.Edit<Clutch>(id);
  const auto chosen = std::ranges::find(clutch.counts, count_token, &CountRecord::token);
  const auto standing =
      std::ranges::find(clutch.counts, CountState::kStanding, &CountRecord::state);
  if (chosen == clutch.counts.end() || standing == clutch.counts.end()) {
    return Refused("UNKNOWN_COUNT", fmt::format("{} has no such count", NameOf(clutch)));
  }
  if (chosen == standing) return std::nullopt;
  Accounts& accounts = clutch.accounts;
  // Slings have been lost and handed over since: what changes is the difference of the two counts.
  const std::int64_t undivided =
      std::int64_t{accounts.undivided} + chosen->slings_living - standing->slings_living;
  if (undivided < 0) {
    return Refused("COUNT_TOO_LOW",
                   fmt::format("{} slings of {} are in lots, handed over or waiting to be, more "
                               "than a count of {} leaves; enter the losses by lot",
                               accounts.in_lots, NameOf(clutch), chosen->slings_living));
  }
  const std::int64_t more_dead =
      std::int64_t{chosen->slings_dead} - std::int64_t{standing->slings_dead};
  const std::int64_t dead =
      clutch.lots.empty() ? std::int64_t{chosen->slings_dead}
                          : std::int64_t{accounts.dead} + std::max<std::int64_t>(more_dead, 0);
  if (undivided > kMax || dead > kMax) {
    return Refused("COUNT_OUT_OF_RANGE", "no clutch has so many slings");
  }
  accounts.undivided = static_cast<std::uint32_t>(undivided);
  accounts.dead = static_cast<std::uint32_t>(dead);
  Balance(accounts);
  standing->state = CountState::kReplaced;
  chosen->state = CountState::kStanding;
  CheckBooks(c, accounts);
  if (chosen->slings_living > 0) TakeNumberAgain(c, id);
  return std::nullopt;
}

}  // namespace broodpact::registry
