// Slings shared out: SplitRecord, and splits that all parties agreed on.

#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/basis.h"
#include "client/registry/internal/rules.h"
#include "client/registry/share_due.h"
#include "client/shares/split.h"

namespace broodpact::registry {
namespace {

// Who shares a clutch, what each is due of what is not shared out yet, and by what.
struct Due {
  SeatsDue by_seat{};
  SplitBasis basis{};
  std::uint32_t slings_by_ratio = 0;  // of all slings of the clutch
};

Finding DueOf(Case& c, const Clutch& clutch, Due& due) {
  const std::uint64_t slings = SlingsToShare(clutch);
  const auto too_many = [&] {
    return Refused("COUNT_OUT_OF_RANGE",
                   fmt::format("{} slings are more than can be shared", slings));
  };
  if (slings > facts::kSlingsMax) return too_many();
  if (clutch.loan.empty()) {
    due.by_seat = DueWithoutTerms(clutch);
    return std::nullopt;
  }
  if (Finding f = SplitBasisOf(c, clutch, due.basis)) return f;
  const absl::StatusOr<shares::Split> split =
      shares::SplitOf(due.basis.terms, static_cast<std::uint32_t>(slings), due.basis.occasion);
  if (!split.ok()) return too_many();
  due.by_seat = DueByTerms(clutch, due.basis.terms, *split);
  due.slings_by_ratio = split->slings_by_ratio;
  return std::nullopt;
}

Finding CheckSplitter(Case& c, const Clutch& clutch) {
  if (ActsForParty(c, clutch)) return std::nullopt;
  if (clutch.loan.empty()) {
    return Void("NOT_OWNER", fmt::format("{} is shared out by its owner, {}", NameOf(clutch),
                                         NameOf(c, clutch.owner)));
  }
  return Void("NOT_PARTY", fmt::format("{} is shared out by a party of its loan", NameOf(clutch)));
}

Finding CheckUndivided(Case& c, const Clutch& clutch) {
  if (!clutch.shared_out || clutch.accounts.undivided > 0) return std::nullopt;
  return Superseded("ALREADY_SHARED",
                    fmt::format("{} has been shared out by {} before", NameOf(clutch),
                                NameOf(c, clutch.split.keeper)),
                    clutch.split.arrival);
}

Finding CheckSplitCount(Case& c, const Clutch& clutch, const Token& count_token) {
  if (Finding f = CheckUndivided(c, clutch)) return f;
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

Finding CheckShares(Case& c, const facts::SplitRecord& s, const SeatsDue& due) {
  if (s.shares.size() != due.seats.size()) {
    return Refused("SPLIT_DIFFERS",
                   fmt::format("the split names {} parties, and {} share the clutch",
                               s.shares.size(), due.seats.size()));
  }
  for (std::size_t i = 0; i < s.shares.size(); ++i) {
    const facts::SplitShare& share = s.shares[i];
    const KeeperId& receiver = due.seats[i].receiver;
    if (share.keeper != receiver) {
      return Refused("SPLIT_DIFFERS",
                     fmt::format("party {} of the split is {}, and by the terms it is {}", i + 1,
                                 NameOf(c, share.keeper), NameOf(c, receiver)));
    }
    if (share.slings != due.slings[i]) {
      return Refused("SPLIT_DIFFERS",
                     fmt::format("the split gives {} slings to {}, and by the terms {} are due",
                                 share.slings, NameOf(c, share.keeper), due.slings[i]));
    }
  }
  return std::nullopt;
}

Finding CreateLots(Case& c, const ClutchId& clutch, const std::vector<facts::SplitShare>& shares) {
  const KeeperId holder = Known<Clutch>(c, clutch).holder;
  for (const facts::SplitShare& share : shares) {
    if (share.slings == 0) continue;
    if (share.lot.empty()) {
      return Refused("LOT_MISSING",
                     fmt::format("the share of {} names no lot", NameOf(c, share.keeper)));
    }
    if (c.state.Find<Lot>(share.lot) != nullptr) return IdTaken("lot", share.lot.bytes);
    Lot& lot = c.state.Create<Lot>(share.lot);
    lot.clutch = clutch;
    lot.owner = share.keeper;
    lot.holder = holder;
    lot.slings = share.slings;
    lot.events.push_back(
        {.kind = SlingEventKind::kShared, .slings = share.slings, .entry = c.entry});
    lot.entry = c.entry;
  }
  return std::nullopt;
}

// Adds to what carries over what the terms share by ratio of this clutch, beyond what its earlier
// splits added. That is what the terms give, not what anybody got in the end: a share that was
// given up or passed on, and what all parties agreed otherwise, is not made up for in the clutches
// to come. The account takes nothing back when slings of this clutch turn out to be fewer: others
// may have been shared on top of it since.
void KeepCarryOf(Case& c, const ClutchId& id, const Due& due) {
  Clutch& clutch = c.state.Edit<Clutch>(id);
  if (due.slings_by_ratio <= clutch.slings_by_ratio) return;
  const std::uint32_t more = due.slings_by_ratio - clutch.slings_by_ratio;
  clutch.slings_by_ratio = due.slings_by_ratio;
  KeepCarry(c, id, due.basis, more);
}

// Makes lots of what is undivided; `due` is what the parties are due of it by the terms.
Finding ShareOut(Case& c, const ClutchId& id, const std::vector<facts::SplitShare>& shares,
                 const Due& due) {
  if (Finding f = CheckRoom(Known<Clutch>(c, id).lots.size(), "lots")) return f;
  if (Finding f = CheckRoom(Known<Clutch>(c, id).shares.size(), "shares")) return f;
  if (Finding f = CheckRoom(Known<Clutch>(c, id).events.size(), "events")) return f;
  if (Finding f = CreateLots(c, id, shares)) return f;
  Clutch& clutch = c.state.Edit<Clutch>(id);
  clutch.shared_out = true;
  if (const CountRecord* standing = StandingCount(clutch)) clutch.split_count = standing->token;
  clutch.shares.insert(clutch.shares.end(), shares.begin(), shares.end());
  clutch.split = c.entry;
  for (const facts::SplitShare& share : shares) {
    if (share.slings > 0) clutch.lots.push_back(share.lot);
  }
  clutch.occasion = due.basis.occasion;
  clutch.parties = due.by_seat.seats;
  for (std::size_t i = 0; i < clutch.parties.size(); ++i) {
    clutch.parties[i].credited += due.by_seat.slings[i];
  }
  clutch.events.push_back(
      {.kind = SlingEventKind::kShared, .slings = clutch.accounts.undivided, .entry = c.entry});
  clutch.accounts.in_lots += clutch.accounts.undivided;
  clutch.accounts.undivided = 0;
  CheckBooks(c, clutch.accounts);
  KeepCarryOf(c, id, due);
  return std::nullopt;
}

// By the terms all is shared, unless all shares of it are given up.
Finding CheckSharesAll(const facts::SplitRecord& s, const Clutch& clutch) {
  std::uint64_t sum = 0;
  for (const facts::SplitShare& share : s.shares) sum += share.slings;
  if (sum == clutch.accounts.undivided) return std::nullopt;
  return Refused("SPLIT_SUM",
                 fmt::format("nobody is left to share {} of the slings of {}; one of its parties "
                             "passes a share on",
                             clutch.accounts.undivided - sum, NameOf(clutch)));
}

}  // namespace

Finding Apply(Case& c, const facts::SplitRecord& s) {
  const Clutch* clutch = c.state.Find<Clutch>(s.clutch);
  if (clutch == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  if (Finding f = CheckSplitter(c, *clutch)) return f;
  if (Finding f = CheckSplitCount(c, *clutch, s.count_token)) return f;
  Due due;
  if (Finding f = DueOf(c, *clutch, due)) return f;
  if (Finding f = CheckWitnessed(c, *clutch, *StandingCount(*clutch), due.basis.terms)) return f;
  if (Finding f = CheckCarried(c, s, *clutch, due.basis)) return f;
  if (Finding f = CheckShares(c, s, due.by_seat)) return f;
  if (Finding f = CheckSharesAll(s, *clutch)) return f;
  if (clutch->objections_open > 0) {
    Flag(c, "FLAG_OBJECTION_OPEN",
         fmt::format("{} objections to {} are open; slings can still change hands by a settlement",
                     clutch->objections_open, NameOf(*clutch)));
  }
  return ShareOut(c, s.clutch, s.shares, due);
}

Finding ShareOutAsAgreed(Case& c, const ClutchId& id,
                         const std::vector<facts::SplitShare>& shares) {
  const Clutch& clutch = Known<Clutch>(c, id);
  if (Finding f = CheckUndivided(c, clutch)) return f;
  if (shares.size() != clutch.parties.size()) {
    return Refused("SPLIT_DIFFERS",
                   fmt::format("the settlement names {} parties, and {} share {}", shares.size(),
                               clutch.parties.size(), NameOf(clutch)));
  }
  std::uint64_t sum = 0;
  for (std::size_t i = 0; i < shares.size(); ++i) {
    if (shares[i].keeper != clutch.parties[i].receiver) {
      return Refused("SPLIT_DIFFERS", fmt::format("party {} of the settlement is not {}", i + 1,
                                                  NameOf(c, clutch.parties[i].receiver)));
    }
    sum += shares[i].slings;
  }
  if (sum != clutch.accounts.undivided) {
    return Refused("SPLIT_SUM", fmt::format("the settlement shares {} slings, and {} has {}", sum,
                                            NameOf(clutch), clutch.accounts.undivided));
  }
  // What was agreed beside the terms is not made up for later: each is credited with its due, and
  // as much carries over. Who is given slings by the terms and is no party has no part in this.
  Due due;
  if (Finding f = DueOf(c, clutch, due)) return f;
  return ShareOut(c, id, shares, due);
}

}  // namespace broodpact::registry
