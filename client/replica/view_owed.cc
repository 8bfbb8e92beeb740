// What keepers owe each other: slings to hand over, animals due back, dead arrivals to make good,
// receipts, signatures, acceptances and splits.

#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <tuple>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/terms.h"
#include "client/registry/index.h"
#include "client/registry/version.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"
#include "client/replica/waiting.h"

namespace broodpact::replica {
namespace {

// Loans, lots, clutches or clashes of one keeper that are looked at.
constexpr std::size_t kSubjectsMax = 100'000;

// Whom an entry is between.
struct Between {
  KeeperId debtor{};
  KeeperId creditor{};  // empty: all parties
};

class Bookkeeper {
 public:
  Bookkeeper(const registry::Source& source, Messages& writer, Day day)
      : source_(source), writer_(writer), day_(day) {}

  absl::Status AddLoans(const KeeperId& keeper) {
    BP_ASSIGN_OR_RETURN(const auto loans, Behind<registry::Loan>(registry::LoansOfParty(keeper)));
    for (const registry::Loan& loan : loans) {
      if (loan.state == registry::LoanState::kInForce) {
        AddReturn(loan);
        for (const OpenAmendment& one : OpenAmendmentsOf(loan, day_)) {
          for (const KeeperId& party : one.missing) AddAmendment(one, party);
        }
      } else {
        AddSignatures(loan);
      }
    }
    return absl::OkStatus();
  }

  // Those that wait for the keeper, of loans of others too: an amendment may bring him in.
  absl::Status AddAmendments(const KeeperId& keeper) {
    BP_ASSIGN_OR_RETURN(const std::vector<OpenAmendment> open,
                        AmendmentsFor(source_, keeper, day_));
    for (const OpenAmendment& one : open) AddAmendment(one, keeper);
    return absl::OkStatus();
  }

  absl::Status AddLots(const KeeperId& keeper) {
    BP_ASSIGN_OR_RETURN(const auto lots, Behind<registry::Lot>(registry::LotsOfKeeper(keeper)));
    for (const registry::Lot& lot : lots) {
      if (lot.slings > 0) AddSlings(lot);
      if (lot.dead_on_arrival > lot.made_good) AddReplacement(lot);
    }
    return absl::OkStatus();
  }

  absl::Status AddClutches(const KeeperId& keeper) {
    BP_ASSIGN_OR_RETURN(const auto clutches,
                        Behind<registry::Clutch>(registry::ClutchesToShare(keeper)));
    for (const registry::Clutch& clutch : clutches) {
      if (clutch.accounts.undivided == 0) continue;
      v1::Owed entry = EntryOf("split", clutch.id, clutch.counts.back().day);
      entry.set_slings(clutch.accounts.undivided);
      entry.set_sentence(fmt::format("{} of clutch {} to be shared out",
                                     Slings(clutch.accounts.undivided), Name(clutch.id)));
      Add({.debtor = clutch.holder}, std::move(entry));
    }
    return absl::OkStatus();
  }

  absl::Status AddOffers(const KeeperId& keeper) {
    BP_ASSIGN_OR_RETURN(const auto animals,
                        Behind<registry::Animal>(registry::AnimalsOffered(keeper)));
    for (const registry::Animal& animal : animals) {
      if (!animal.offer) continue;
      AddOffer(animal.id, animal.owner, *animal.offer,
               fmt::format("{} with her due", Name(animal.id)));
    }
    BP_ASSIGN_OR_RETURN(const auto clutches,
                        Behind<registry::Clutch>(registry::ClutchesOffered(keeper)));
    for (const registry::Clutch& clutch : clutches) {
      if (!clutch.offer) continue;
      AddOffer(clutch.id, clutch.owner, *clutch.offer,
               fmt::format("sac {}{}", Name(clutch.id),
                           clutch.offer->loans.empty() ? "" : " with its due"));
    }
    return absl::OkStatus();
  }

  absl::Status AddClashes(const KeeperId& keeper) {
    BP_ASSIGN_OR_RETURN(const auto clashes,
                        Behind<registry::Clash>(registry::ClashesOfParty(keeper)));
    for (const registry::Clash& clash : clashes) {
      if (clash.settlements.empty()) continue;
      const registry::SettlementRecord& last = clash.settlements.back();
      for (const KeeperId& party : clash.parties) {
        if (registry::HasSigned(last.signatures, party)) continue;
        v1::Owed entry = EntryOf("signature", clash.id, DayOfMillis(last.entry.time_ms));
        entry.set_sentence(fmt::format("signature under a settlement: {}", last.words));
        Add({.debtor = party, .creditor = last.entry.keeper}, std::move(entry));
      }
    }
    return absl::OkStatus();
  }

  std::vector<v1::Owed> Take() { return std::move(entries_); }

 private:
  template <typename Subject>
  absl::StatusOr<std::vector<Subject>> Behind(const std::string& prefix) {
    using AnyId = decltype(Subject::id);
    BP_ASSIGN_OR_RETURN(const std::vector<AnyId> ids,
                        IdsBehind<AnyId>(source_, prefix, kSubjectsMax));
    return ReadMany<Subject>(source_, ids);
  }

  template <typename AnyId>
  std::string Name(const AnyId& id) {
    return writer_.refs().Name(id);
  }

  template <typename AnyId, typename AnyDay>
  v1::Owed EntryOf(std::string kind, const AnyId& subject, const AnyDay& since) {
    v1::Owed entry;
    entry.set_kind(std::move(kind));
    entry.mutable_subject()->set_id(ToText(subject));
    entry.mutable_subject()->set_name(NameOrId(subject));
    entry.set_since_day(ToText(since));
    return entry;
  }
  template <typename AnyId>
  std::string NameOrId(const AnyId& id) {
    return Name(id);
  }
  static std::string NameOrId(const ClashId& id) { return ToShortText(id); }

  void SetDue(Day due, v1::Owed& entry) const {
    entry.set_due_day(ToText(due));
    if (due < day_) entry.set_overdue_days(static_cast<std::uint32_t>(day_.number - due.number));
  }

  void Add(const Between& between, v1::Owed entry) {
    *entry.mutable_debtor() = writer_.refs().Ref(between.debtor);
    if (!between.creditor.empty()) {
      *entry.mutable_creditor() = writer_.refs().Ref(between.creditor);
    }
    // A subject is found by way of both keepers.
    const auto key =
        std::tuple(entry.kind(), entry.subject().id(), entry.debtor().id(), entry.sentence());
    if (seen_.insert(key).second) entries_.push_back(std::move(entry));
  }

  void AddSignatures(const registry::Loan& loan) {
    for (const KeeperId& party : loan.parties) {
      if (registry::HasSigned(loan.signatures, party)) continue;
      v1::Owed entry = EntryOf("signature", loan.id, DayOfMillis(loan.entry.time_ms));
      entry.set_sentence(
          fmt::format("yes or no to loan {} of {}", Name(loan.id), Name(loan.animal)));
      Add({.debtor = party, .creditor = loan.entry.keeper}, std::move(entry));
    }
  }

  void AddAmendment(const OpenAmendment& one, const KeeperId& party) {
    v1::Owed entry = EntryOf("signature", one.loan, DayOfMillis(one.time_ms));
    entry.set_sentence(
        fmt::format("yes or no to the amendment of loan {}{}", Name(one.loan),
                    one.open == 1 ? "" : fmt::format(", version {}", VersionText(one.digest))));
    Add({.debtor = party, .creditor = one.proposer}, std::move(entry));
  }

  void AddReturn(const registry::Loan& loan) {
    const auto animal = writer_.Find<registry::Animal>(loan.animal);
    if (!animal || animal->death) return;
    if (!animal->receiver.empty()) {
      v1::Owed entry =
          EntryOf("receipt", loan.id,
                  loan.dispatch ? loan.dispatch->earliest : DayOfMillis(loan.entry.time_ms));
      entry.set_sentence(fmt::format("receipt of {}", animal->name));
      Add({.debtor = animal->receiver, .creditor = animal->holder}, std::move(entry));
      return;
    }
    if (animal->holder == loan.lender) return;
    v1::Owed entry = EntryOf(
        "return", loan.id, loan.receipt ? loan.receipt->earliest : DayOfMillis(loan.entry.time_ms));
    entry.set_sentence(fmt::format("{} back, by loan {}", animal->name, Name(loan.id)));
    if (loan.return_day) SetDue(*loan.return_day, entry);
    Add({.debtor = animal->holder, .creditor = loan.lender}, std::move(entry));
  }

  void AddSlings(const registry::Lot& lot) {
    const std::string slings = fmt::format("{} of clutch {}", Slings(lot.slings), Name(lot.clutch));
    if (!lot.receiver.empty() && lot.dispatch) {
      v1::Owed entry = EntryOf("receipt", lot.id, lot.dispatch->earliest);
      entry.set_sentence(fmt::format("receipt of {}", slings));
      Add({.debtor = lot.receiver, .creditor = lot.holder}, std::move(entry));
      return;
    }
    if (lot.owner == lot.holder) return;
    v1::Owed entry = EntryOf("slings", lot.id, DayOfMillis(lot.entry.time_ms));
    entry.set_slings(lot.slings);
    entry.set_sentence(fmt::format("{} to hand over", slings));
    Add({.debtor = lot.holder, .creditor = lot.owner}, std::move(entry));
  }

  // Within how many days the terms of its clutch have a lot's dead arrivals replaced; 0: never.
  std::uint32_t ReplaceDays(const registry::Lot& lot) {
    const auto clutch = writer_.Find<registry::Clutch>(lot.clutch);
    if (!clutch || clutch->loan.empty()) return 0;
    const auto loan = writer_.Find<registry::Loan>(clutch->loan);
    if (!loan) return 0;
    const auto version = registry::VersionOf(*loan, clutch->agreement);
    if (!version) return 0;
    const absl::StatusOr<facts::Agreement> agreement = facts::ParseAgreement(version->agreement);
    return agreement.ok() ? agreement->terms.dead_arrivals.replace_days : 0;
  }

  // A parcel of somebody's share, handed over by who held it: not a gift out of the sender's own,
  // and not one that replaces others, which stay owed as far as it did not bring them.
  bool IsHandover(const registry::Lot& parcel) {
    if (!parcel.replaces.empty()) return false;
    const auto source = writer_.Find<registry::Lot>(parcel.source);
    return source && source->owner != parcel.sender;
  }

  void AddReplacement(const registry::Lot& lot) {
    const std::uint32_t days = ReplaceDays(lot);
    if (days == 0 || !lot.receipt || !IsHandover(lot)) return;
    const std::uint32_t slings = lot.dead_on_arrival - lot.made_good;
    v1::Owed entry = EntryOf("replacement", lot.id, lot.receipt->earliest);
    entry.set_slings(slings);
    entry.set_sentence(fmt::format("{} of clutch {} that arrived dead, to be replaced",
                                   Slings(slings), Name(lot.clutch)));
    SetDue(Day{lot.receipt->latest.number + static_cast<std::int32_t>(days)}, entry);
    Add({.debtor = lot.sender, .creditor = lot.owner}, std::move(entry));
  }

  template <typename AnyId>
  void AddOffer(const AnyId& id, const KeeperId& giver, const registry::DueOffer& offer,
                std::string_view what) {
    v1::Owed entry = EntryOf("acceptance", id, DayOfMillis(offer.entry.time_ms));
    entry.set_sentence(fmt::format("yes or no to {}", what));
    Add({.debtor = offer.receiver, .creditor = giver}, std::move(entry));
  }

  const registry::Source& source_;
  Messages& writer_;
  Day day_;
  std::vector<v1::Owed> entries_;
  std::set<std::tuple<std::string, std::string, std::string, std::string>> seen_;
};

// What is overdue first, the longest first; then by day, and names.
bool ComesBefore(const v1::Owed& a, const v1::Owed& b) {
  const auto rank = [](const v1::Owed& entry) {
    return std::tuple(-std::int64_t{entry.overdue_days()}, entry.due_day().empty(), entry.due_day(),
                      entry.since_day(), entry.debtor().name(), entry.creditor().name(),
                      entry.subject().id());
  };
  return rank(a) < rank(b);
}

// Adds the slings that pairs of keepers owe each other.
void AddBalances(v1::OwedList& list) {
  std::map<std::pair<std::string, std::string>, v1::PairBalance> pairs;
  for (const v1::Owed& entry : list.entries()) {
    const bool counts = entry.kind() == "slings" || entry.kind() == "replacement";
    if (!counts || entry.creditor().id().empty()) continue;
    const bool in_order = entry.debtor().name() < entry.creditor().name();
    const v1::Ref& first = in_order ? entry.debtor() : entry.creditor();
    const v1::Ref& second = in_order ? entry.creditor() : entry.debtor();
    v1::PairBalance& pair = pairs[{first.name(), second.name()}];
    *pair.mutable_first() = first;
    *pair.mutable_second() = second;
    if (in_order) {
      pair.set_slings_of_first(pair.slings_of_first() + entry.slings());
    } else {
      pair.set_slings_of_second(pair.slings_of_second() + entry.slings());
    }
  }
  for (auto& [names, pair] : pairs) *list.add_balances() = std::move(pair);
}

}  // namespace

absl::StatusOr<v1::OwedList> View::Owed(const KeeperId& keeper,
                                        const std::optional<KeeperId>& other, Day day) const {
  Messages writer(source_, provisional_);
  Bookkeeper book(source_, writer, day);
  BP_RETURN_IF_ERROR(book.AddLoans(keeper));
  BP_RETURN_IF_ERROR(book.AddAmendments(keeper));
  BP_RETURN_IF_ERROR(book.AddLots(keeper));
  BP_RETURN_IF_ERROR(book.AddClutches(keeper));
  BP_RETURN_IF_ERROR(book.AddOffers(keeper));
  BP_RETURN_IF_ERROR(book.AddClashes(keeper));
  // What others of these loans and clutches owe each other is not asked for. A split is owed to all
  // who have a share, this keeper among them.
  std::vector<v1::Owed> entries = book.Take();
  const std::string self = ToText(keeper);
  const std::string partner = other ? ToText(*other) : "";
  std::erase_if(entries, [&](const v1::Owed& entry) {
    const std::string& debtor = entry.debtor().id();
    const std::string& creditor = entry.creditor().id();
    const bool concerns = debtor == self || creditor == self || creditor.empty();
    const bool with_partner = partner.empty() || debtor == partner || creditor == partner;
    return !concerns || !with_partner;
  });
  std::ranges::sort(entries, ComesBefore);
  v1::OwedList list;
  list.set_day(ToText(day));
  for (v1::Owed& entry : entries) *list.add_entries() = std::move(entry);
  AddBalances(list);
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

}  // namespace broodpact::replica
