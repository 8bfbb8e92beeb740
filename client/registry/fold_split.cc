// Slings shared out: SplitRecord, and splits that all parties agreed on.

#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/rules.h"
#include "client/registry/share_due.h"
#include "client/registry/version.h"
#include "client/shares/split.h"

namespace broodpact::registry {
namespace {

// The parties that share a clutch, and what is due to each.
struct Due {
  std::vector<KeeperId> parties;
  std::vector<std::uint32_t> slings;
};

// The terms that share a clutch; nothing where no loan does.
Finding TermsOf(Case& c, const Clutch& clutch, std::optional<facts::Terms>& terms) {
  if (clutch.loan.empty()) return std::nullopt;
  const Loan* loan = c.state.Find<Loan>(clutch.loan);
  if (loan == nullptr) return UnknownSubject("loan", clutch.loan.bytes);
  const AgreedVersion version = VersionOf(*loan, clutch.agreement).value_or(AgreedVersion{});
  absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(version.agreement);
  if (!agreement.ok()) {
    return Refused("AGREEMENT_UNREADABLE",
                   fmt::format("the agreement of {} cannot be read", NameOf(*loan)));
  }
  terms = std::move(agreement->terms);
  return std::nullopt;
}

Finding DueOf(Case& c, const Clutch& clutch, Due& due) {
  const std::uint64_t slings = SlingsToShare(clutch);
  if (slings > facts::kSlingsMax) {
    return Refused("COUNT_OUT_OF_RANGE",
                   fmt::format("{} slings are more than can be shared", slings));
  }
  std::optional<facts::Terms> terms;
  if (Finding f = TermsOf(c, clutch, terms)) return f;
  std::vector<std::uint32_t> by_terms = {static_cast<std::uint32_t>(slings)};
  if (terms.has_value()) {
    absl::StatusOr<shares::Split> split =
        shares::SplitOf(*terms, static_cast<std::uint32_t>(slings));
    if (!split.ok()) {
      return Refused("COUNT_OUT_OF_RANGE",
                     fmt::format("{} slings are more than can be shared", slings));
    }
    by_terms = std::move(split->slings);
  }
  for (const PartyShare& share : clutch.parties) due.parties.push_back(share.receiver);
  due.slings = SharesDue(clutch, by_terms, WeightsOf(terms.has_value() ? &*terms : nullptr));
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
  for (std::size_t i = 0; i < due.slings.size(); ++i) clutch.parties[i].credited += due.slings[i];
  clutch.events.push_back(
      {.kind = SlingEventKind::kShared, .slings = clutch.accounts.undivided, .entry = c.entry});
  clutch.accounts.in_lots += clutch.accounts.undivided;
  clutch.accounts.undivided = 0;
  CheckBooks(c, clutch.accounts);
  return std::nullopt;
}

}  // namespace

Finding Apply(Case& c, const facts::SplitRecord& s) {
  const Clutch* clutch = c.state.Find<Clutch>(s.clutch);
  if (clutch == nullptr) return UnknownSubject("clutch", s.clutch.bytes);
  if (Finding f = CheckSplitter(c, *clutch)) return f;
  if (Finding f = CheckSplitCount(c, *clutch, s.count_token)) return f;
  Due due;
  if (Finding f = DueOf(c, *clutch, due)) return f;
  if (Finding f = CheckShares(c, s, due)) return f;
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
  // What was agreed beside the terms is not made up for later: each is credited with its due.
  Due due;
  if (Finding f = DueOf(c, clutch, due)) return f;
  return ShareOut(c, id, shares, due);
}

}  // namespace broodpact::registry
