// Slings counted and shared out: Count, SplitRecord.

#include <algorithm>
#include <utility>

#include "fmt/core.h"

#include "client/base/check.h"
#include "client/registry/internal/basis.h"
#include "client/registry/internal/rules.h"
#include "client/shares/split.h"

namespace broodpact::registry {
namespace {

const CountRecord* StandingCount(const Clutch& clutch) {
  for (const CountRecord& count : clutch.counts) {
    if (count.state == CountState::kStanding) return &count;
  }
  return nullptr;
}

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
  if (clutch.owner == c.author() || clutch.holder == c.author()) return std::nullopt;
  const Loan* loan = clutch.loan.empty() ? nullptr : c.state.Find<Loan>(clutch.loan);
  if (loan != nullptr && IsPartyOf(*loan, c.author())) return std::nullopt;
  return Void(
      "NOT_YOUR_CLUTCH",
      fmt::format("{} is owned by {} and held by {}; they, or a party of its loan, count it",
                  NameOf(clutch), NameOf(c, clutch.owner), NameOf(c, clutch.holder)));
}

// A count beside a standing one that it does not replace.
Finding Rival(Case& c, const facts::Count& s, const Clutch& clutch, const CountRecord& standing) {
  const std::string message = fmt::format(
      "{} was counted by {} before ({} living); your count of {} is kept beside it; agree, and "
      "count again naming that count",
      NameOf(clutch), NameOf(c, standing.entry.keeper), standing.slings_living, s.slings_living);
  std::vector<KeeperId> parties = {c.author(), standing.entry.keeper, clutch.owner, clutch.holder};
  if (const Loan* loan = clutch.loan.empty() ? nullptr : c.state.Find<Loan>(clutch.loan)) {
    parties.insert(parties.end(), loan->parties.begin(), loan->parties.end());
  }
  c.aftermath.rival = {.clutch = clutch.id, .count = RecordOf(c, s, CountState::kRival)};
  c.aftermath.clash = ClashOf(c, {.kind = Kind::kClutch,
                                  .subject = clutch.id.bytes,
                                  .reason = "COUNT_RIVAL",
                                  .message = message,
                                  .parties = std::move(parties),
                                  .winner_arrival = standing.entry.arrival});
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
}

Finding Recount(Case& c, const facts::Count& s, const Clutch& before) {
  const std::uint32_t in_lots = before.accounts.in_lots;
  if (s.slings_living < in_lots) {
    return Refused("COUNT_TOO_LOW",
                   fmt::format("{} slings of {} are in lots, more than the {} counted; enter the "
                               "losses by lot",
                               in_lots, NameOf(before), s.slings_living));
  }
  Clutch& clutch = c.state.Edit<Clutch>(s.clutch);
  for (CountRecord& count : clutch.counts) {
    if (count.state == CountState::kStanding) count.state = CountState::kReplaced;
  }
  clutch.counts.push_back(RecordOf(c, s, CountState::kStanding));
  Accounts& accounts = clutch.accounts;
  accounts.undivided = s.slings_living - in_lots;
  accounts.dead = std::max(accounts.dead, s.slings_dead);
  // Dead slings come from counts and receipts within their bounds, so this fits.
  const std::int64_t accounted =
      std::int64_t{accounts.undivided} + accounts.in_lots + accounts.dead + accounts.raised;
  accounts.unaccounted = static_cast<std::int32_t>(std::int64_t{accounts.hatched} - accounted);
  CheckBooks(c, accounts);
  return std::nullopt;
}

// The parties that share a clutch, what is due to each, and by what.
struct Due {
  std::vector<KeeperId> parties;
  std::vector<std::uint32_t> slings;
  SplitBasis basis;
  std::uint32_t slings_by_ratio = 0;
};

Finding DueOf(Case& c, const Clutch& clutch, Due& due) {
  const std::uint32_t slings = clutch.accounts.undivided;
  if (clutch.loan.empty()) {
    due.parties = {clutch.owner};
    due.slings = {slings};
    return std::nullopt;
  }
  if (Finding f = SplitBasisOf(c, clutch, due.basis)) return f;
  absl::StatusOr<shares::Split> split =
      shares::SplitOf(due.basis.terms, slings, due.basis.occasion);
  if (!split.ok()) {
    return Refused("COUNT_OUT_OF_RANGE",
                   fmt::format("{} slings are more than can be shared", slings));
  }
  due.parties = std::move(split->keepers);
  due.slings = std::move(split->slings);
  due.slings_by_ratio = split->slings_by_ratio;
  return std::nullopt;
}

Finding CheckSplitter(Case& c, const Clutch& clutch) {
  if (clutch.loan.empty()) {
    if (clutch.owner == c.author()) return std::nullopt;
    return Void("NOT_OWNER", fmt::format("{} is shared out by its owner, {}", NameOf(clutch),
                                         NameOf(c, clutch.owner)));
  }
  const Loan* loan = c.state.Find<Loan>(clutch.loan);
  if (loan != nullptr && IsPartyOf(*loan, c.author())) return std::nullopt;
  return Void("NOT_PARTY", fmt::format("{} is shared out by a party of its loan", NameOf(clutch)));
}

Finding CheckSplitCount(Case& c, const Clutch& clutch, const Token& count_token) {
  if (clutch.shared_out) {
    return Superseded("ALREADY_SHARED",
                      fmt::format("{} has been shared out by {} before", NameOf(clutch),
                                  NameOf(c, clutch.split.keeper)),
                      clutch.split.arrival);
  }
  const CountRecord* standing = StandingCount(clutch);
  if (standing == nullptr) {
    return Refused("NOT_COUNTED", fmt::format("{} has no count; count it first", NameOf(clutch)));
  }
  if (standing->token == count_token) return std::nullopt;
  return Superseded(
      "COUNT_REPLACED",
      fmt::format("the count that stands is {}'s of {} living; split {} by that one",
                  NameOf(c, standing->entry.keeper), standing->slings_living, NameOf(clutch)),
      standing->entry.arrival);
}

Finding CheckShares(Case& c, const facts::SplitRecord& s, const Due& due) {
  if (s.shares.size() != due.parties.size()) {
    return Refused("SPLIT_DIFFERS",
                   fmt::format("the split names {} parties, and {} share the clutch",
                               s.shares.size(), due.parties.size()));
  }
  for (std::size_t i = 0; i < s.shares.size(); ++i) {
    const facts::SplitShare& share = s.shares[i];
    if (share.keeper != due.parties[i]) {
      return Refused("SPLIT_DIFFERS",
                     fmt::format("party {} of the split is {}, and by the terms it is {}", i + 1,
                                 NameOf(c, share.keeper), NameOf(c, due.parties[i])));
    }
    if (share.slings != due.slings[i]) {
      return Refused("SPLIT_DIFFERS",
                     fmt::format("the split gives {} slings to {}, and by the terms {} are due",
                                 share.slings, NameOf(c, share.keeper), due.slings[i]));
    }
  }
  return std::nullopt;
}

Finding CreateLots(Case& c, const facts::SplitRecord& s) {
  const KeeperId holder = Known<Clutch>(c, s.clutch).holder;
  for (const facts::SplitShare& share : s.shares) {
    if (share.slings == 0) continue;
    if (share.lot.empty()) {
      return Refused("LOT_MISSING",
                     fmt::format("the share of {} names no lot", NameOf(c, share.keeper)));
    }
    if (c.state.Find<Lot>(share.lot) != nullptr) return IdTaken("lot", share.lot.bytes);
    Lot& lot = c.state.Create<Lot>(share.lot);
    lot.clutch = s.clutch;
    lot.owner = share.keeper;
    lot.holder = holder;
    lot.slings = share.slings;
    lot.entry = c.entry;
  }
  return std::nullopt;
}

}  // namespace

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
  if (Finding f = CheckRoom(clutch->counts.size(), "counts")) return f;
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
  if (standing->token != s.count_token) return Rival(c, s, *clutch, *standing);
  return Recount(c, s, *clutch);
}

Finding Apply(Case& c, const facts::SplitRecord& s) {
  const Clutch* clutch = c.state.Find<Clutch>(s.clutch);
  if (clutch == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  if (Finding f = CheckSplitter(c, *clutch)) return f;
  if (Finding f = CheckSplitCount(c, *clutch, s.count_token)) return f;
  Due due;
  if (Finding f = DueOf(c, *clutch, due)) return f;
  if (Finding f = CheckWitnessed(c, *clutch, *StandingCount(*clutch), due.basis.terms)) return f;
  if (Finding f = CheckCarried(c, s, due.basis)) return f;
  if (Finding f = CheckShares(c, s, due)) return f;
  if (Finding f = CreateLots(c, s)) return f;

  Clutch& shared = c.state.Edit<Clutch>(s.clutch);
  shared.shared_out = true;
  shared.split_count = s.count_token;
  shared.occasion.carried_slings = due.basis.occasion.carried_slings;
  shared.occasion.sire_owners = due.basis.occasion.sire_owners;
  shared.shares = s.shares;
  shared.split = c.entry;
  for (const facts::SplitShare& share : s.shares) {
    if (share.slings > 0) shared.lots.push_back(share.lot);
  }
  shared.accounts.in_lots = shared.accounts.undivided;
  shared.accounts.undivided = 0;
  CheckBooks(c, shared.accounts);
  KeepCarry(c, s.clutch, due.basis, due.slings_by_ratio);
  return std::nullopt;
}

}  // namespace broodpact::registry
