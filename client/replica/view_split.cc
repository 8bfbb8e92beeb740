// The split of a clutch: as recorded, or as its terms imply.

#include <algorithm>
#include <cstdint>
#include <utility>

#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/hash.h"
#include "client/base/status.h"
#include "client/registry/share_due.h"
#include "client/registry/version.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"
#include "client/replica/occasion.h"
#include "client/replica/view.h"
#include "client/shares/picking.h"
#include "client/shares/split.h"

namespace broodpact::replica {
namespace {

std::string NameOf(const registry::Clutch& clutch) {
  return clutch.name.empty() ? ToShortText(clutch.id) : clutch.name;
}

// The terms that share a clutch out; nothing where no loan does.
// Errors: FAILED_PRECONDITION with reason TERMS_UNSIGNED.
absl::StatusOr<std::optional<facts::Terms>> TermsOf(const registry::Clutch& clutch,
                                                    Messages& writer) {
  if (clutch.loan.empty()) return std::optional<facts::Terms>();
  const std::optional<registry::Loan> loan = writer.Find<registry::Loan>(clutch.loan);
  BP_RETURN_IF_ERROR(writer.status());
  if (!loan || loan->in_force_time_ms == 0) {
    return Fail(absl::StatusCode::kFailedPrecondition, "TERMS_UNSIGNED",
                fmt::format("loan {} has no terms that all its parties signed; `broodpact loan "
                            "show {}` says who is missing",
                            writer.refs().Name(clutch.loan), writer.refs().Name(clutch.loan)));
  }
  const registry::AgreedVersion version =
      registry::VersionOf(*loan, clutch.agreement).value_or(registry::AgreedVersion{});
  BP_ASSIGN_OR_RETURN(facts::Agreement agreement, facts::ParseAgreement(version.agreement));
  return std::optional<facts::Terms>(std::move(agreement.terms));
}

// What a split of a clutch is computed from.
struct Basis {
  std::optional<facts::Terms> terms{};  // nothing: no agreement covers it
  shares::Occasion occasion{};
};

// The basis of the split of a clutch or, with `what_if`, of one that might be.
absl::StatusOr<Basis> BasisOf(const registry::Clutch& clutch, const registry::Source& source,
                              const WhatIf* what_if, Messages& writer) {
  Basis basis;
  BP_ASSIGN_OR_RETURN(basis.terms, TermsOf(clutch, writer));
  if (!basis.terms) return basis;
  if (what_if != nullptr) {
    facts::Apportioning& apportioning = basis.terms->apportioning;
    // Another method is tried clutch by clutch, as its shares are not what carried over.
    if (what_if->method) {
      apportioning.method = *what_if->method;
      apportioning.carry = facts::Carry::kOff;
    }
    apportioning.carry = what_if->carry.value_or(apportioning.carry);
  }
  BP_ASSIGN_OR_RETURN(basis.occasion, OccasionOf(source, clutch, *basis.terms));
  return basis;
}

void AddPart(const KeeperId& keeper, std::uint32_t slings, const LotId& lot, Messages& writer,
             v1::Split& message) {
  v1::SplitPart& part = *message.add_parts();
  *part.mutable_keeper() = writer.refs().Ref(keeper);
  part.set_slings(slings);
  if (!lot.empty()) *part.mutable_lot() = writer.refs().Ref(lot);
}

// What the parties did with their shares, after the lines of the terms.
void AddShareLines(const registry::Clutch& clutch, const registry::SeatsDue& due, Messages& writer,
                   v1::Split& message) {
  for (std::size_t i = 0; i < due.seats.size(); ++i) {
    const registry::PartyShare& share = due.seats[i];
    const std::string party = writer.refs().Name(share.party);
    if (share.receiver != share.party) {
      message.add_working(
          fmt::format("the share of {} is {}'s", party, writer.refs().Name(share.receiver)));
    }
    if (share.waived) {
      message.add_working(fmt::format(
          "{} gave up what is due beyond {}; it is shared among the rest by their weights", party,
          Slings(share.credited)));
    } else if (share.credited > 0 && clutch.accounts.undivided > 0) {
      message.add_working(
          fmt::format("{} has had {}, and {} more", party, Slings(share.credited), due.slings[i]));
    }
  }
}

// What each is due of what is not shared out yet; the working by the terms is written.
absl::StatusOr<registry::SeatsDue> DueOf(const registry::Clutch& clutch, const Basis& basis,
                                         Messages& writer, v1::Split& message) {
  const std::uint32_t slings = message.slings_counted();
  if (!basis.terms) {
    message.add_working(
        fmt::format("no agreement covers this clutch: all {} go to {}, the "
                    "mother's owner when it was laid",
                    Slings(slings), writer.refs().Name(clutch.parties.front().party)));
    return registry::DueWithoutTerms(clutch);
  }
  BP_ASSIGN_OR_RETURN(const shares::Split split,
                      shares::SplitOf(*basis.terms, slings, basis.occasion));
  message.set_carried_slings(basis.occasion.carried_slings);
  const std::vector<std::string> names = writer.refs().Names(split.keepers);
  for (const shares::Step& step : split.working) {
    message.add_working(shares::Sentence(step, *basis.terms, names));
  }
  return registry::DueByTerms(clutch, *basis.terms, split);
}

// Parts and working: what is recorded, then what is due of the undivided.
absl::Status WriteShares(const registry::Clutch& clutch, const Basis& basis, Messages& writer,
                         v1::Split& message) {
  BP_ASSIGN_OR_RETURN(const registry::SeatsDue due, DueOf(clutch, basis, writer, message));
  AddShareLines(clutch, due, writer, message);
  for (const facts::SplitShare& share : clutch.shares) {
    AddPart(share.keeper, share.slings, share.lot, writer, message);
  }
  for (std::size_t i = 0; i < due.seats.size(); ++i) {
    if (clutch.shared_out && due.slings[i] == 0) continue;
    AddPart(due.seats[i].receiver, due.slings[i], {}, writer, message);
  }
  return absl::OkStatus();
}

absl::StatusOr<registry::Clutch> ReadClutch(const registry::Source& source, const ClutchId& id) {
  BP_ASSIGN_OR_RETURN(std::optional<registry::Clutch> clutch,
                      registry::Read<registry::Clutch>(source, id));
  if (clutch) return *std::move(clutch);
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
              fmt::format("there is no clutch {}", ToShortText(id)));
}

absl::Status CheckCounted(const registry::Clutch& clutch) {
  if (!clutch.counts.empty()) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "CLUTCH_NOT_COUNTED",
              fmt::format("clutch {} is not counted; `broodpact count {}` records a count",
                          NameOf(clutch), NameOf(clutch)));
}

// What a settlement sheet vouches for: the count that was shared out, and who got how many as which
// lot. What becomes of the slings afterwards does not change it.
std::string DigestOf(const registry::Clutch& clutch) {
  using namespace std::string_literals;
  std::string bytes = "broodpact settlement v1\0"s;
  ByteWriter out(bytes);
  out.Name(clutch.id);
  out.Name(clutch.split_count);
  for (const facts::SplitShare& share : clutch.shares) {
    out.Name(share.keeper);
    out.Unsigned(share.slings);
    out.Name(share.lot);
  }
  return ToHex(Sha256(bytes));
}

absl::StatusOr<v1::Split> Written(const registry::Clutch& clutch, const Basis& basis,
                                  Messages& writer) {
  v1::Split message;
  *message.mutable_clutch() = writer.refs().Ref(clutch.id);
  message.set_slings_counted(static_cast<std::uint32_t>(registry::SlingsToShare(clutch)));
  BP_RETURN_IF_ERROR(WriteShares(clutch, basis, writer, message));
  message.set_recorded(clutch.shared_out && clutch.accounts.undivided == 0);
  if (clutch.shared_out) message.set_digest(DigestOf(clutch));
  for (std::string& warning : writer.WarningsOf(clutch)) message.add_warnings(std::move(warning));
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

}  // namespace

v1::SplitCurve CurveMessage(const shares::Curve& curve, const std::vector<std::string>& names) {
  v1::SplitCurve message;
  for (const std::uint32_t size : curve.sizes) message.add_slings_counted(size);
  for (std::size_t i = 0; i < curve.keepers.size(); ++i) {
    v1::CurveLine& line = *message.add_lines();
    line.mutable_keeper()->set_id(ToText(curve.keepers[i]));
    line.mutable_keeper()->set_name(names[i]);
    for (const std::uint32_t slings : curve.slings[i]) line.add_slings(slings);
  }
  return message;
}

absl::StatusOr<v1::Split> View::Split(const ClutchId& id) const {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ReadClutch(source_, id));
  BP_RETURN_IF_ERROR(CheckCounted(clutch));
  Messages writer(source_, provisional_);
  BP_ASSIGN_OR_RETURN(const Basis basis, BasisOf(clutch, source_, nullptr, writer));
  return Written(clutch, basis, writer);
}

absl::StatusOr<v1::PickingOrder> View::Picking(const ClutchId& id) const {
  BP_ASSIGN_OR_RETURN(const v1::Split split, Split(id));
  // A keeper with two parts, from two splits or passed on, picks as one.
  std::vector<std::uint32_t> picks;
  v1::PickingOrder order;
  std::vector<v1::Ref> keepers;
  for (const v1::SplitPart& part : split.parts()) {
    const auto same = [&](const v1::Ref& keeper) { return keeper.id() == part.keeper().id(); };
    const auto found = std::ranges::find_if(keepers, same);
    if (found != keepers.end()) {
      picks[static_cast<std::size_t>(found - keepers.begin())] += part.slings();
      continue;
    }
    keepers.push_back(part.keeper());
    picks.push_back(part.slings());
  }
  BP_ASSIGN_OR_RETURN(const std::vector<std::size_t> turns, shares::PickingOrder(picks));
  *order.mutable_clutch() = split.clutch();
  for (const std::size_t turn : turns) {
    v1::Pick& pick = *order.add_picks();
    pick.set_number(static_cast<std::uint32_t>(order.picks_size()));
    *pick.mutable_keeper() = keepers[turn];
  }
  order.add_working(
      "balanced alternation: the order turns from round to round, so that nobody gains by going "
      "first (Thue-Morse sequence; Brams & Taylor 1999)");
  for (std::size_t i = 0; i < keepers.size(); ++i) {
    order.add_working(fmt::format("{} picks {}", keepers[i].name(), Slings(picks[i])));
  }
  return order;
}

absl::StatusOr<v1::Split> View::SplitIf(const ClutchId& id, const WhatIf& what_if) const {
  BP_ASSIGN_OR_RETURN(registry::Clutch clutch, ReadClutch(source_, id));
  if (!what_if.slings) BP_RETURN_IF_ERROR(CheckCounted(clutch));
  Messages writer(source_, provisional_);
  BP_ASSIGN_OR_RETURN(const Basis basis, BasisOf(clutch, source_, &what_if, writer));
  // As if nothing had been shared out yet.
  clutch.accounts.undivided =
      what_if.slings.value_or(static_cast<std::uint32_t>(registry::SlingsToShare(clutch)));
  clutch.shared_out = false;
  clutch.shares.clear();
  for (registry::PartyShare& share : clutch.parties) share.credited = 0;
  return Written(clutch, basis, writer);
}

absl::StatusOr<v1::SplitCurve> View::SplitCurve(const ClutchId& id, const shares::SizeRange& range,
                                                const WhatIf& what_if) const {
  BP_ASSIGN_OR_RETURN(const registry::Clutch clutch, ReadClutch(source_, id));
  Messages writer(source_, provisional_);
  BP_ASSIGN_OR_RETURN(Basis basis, BasisOf(clutch, source_, &what_if, writer));
  if (!basis.terms) {
    basis.terms.emplace();
    basis.terms->parties = {{.keeper = clutch.owner}};
    basis.terms->shares = {{.party = 0, .weight = 1}};
  }
  BP_ASSIGN_OR_RETURN(const shares::Curve curve,
                      shares::CurveOf(*basis.terms, range, basis.occasion));
  v1::SplitCurve message = CurveMessage(curve, writer.refs().Names(curve.keepers));
  *message.mutable_clutch() = writer.refs().Ref(clutch.id);
  BP_RETURN_IF_ERROR(writer.status());
  return message;
}

}  // namespace broodpact::replica
