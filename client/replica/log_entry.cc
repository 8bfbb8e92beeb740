// A commit of the log, in words: one short sentence a statement.

#include <algorithm>

#include <fmt/format.h>

#include "client/base/hash.h"
#include "client/base/status.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/ref_book.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

// ", word" where there is a word.
std::string Also(std::string_view word) {
  return word.empty() ? "" : fmt::format(", {}", word);
}

std::string Because(std::string_view reason) {
  return reason.empty() ? "" : fmt::format(": {}", reason);
}

// Where a commit stood in its chain, as people call it.
std::string PlaceText(const facts::CommitHeader& header) {
  return fmt::format("commit {} of life {}", header.seq, header.incarnation);
}

// One sentence a kind of statement, without its author and without a full stop.
class Speaker {
 public:
  explicit Speaker(RefBook& refs) : refs_(refs) {}

  std::string operator()(const facts::Unknown& said) {
    std::string subjects;
    for (const IdBytes& id : said.subjects) {
      subjects += " " + IdText(id).substr(0, kIdShortSize);
    }
    return fmt::format("a statement of a newer kind{}{}", subjects.empty() ? "" : " on", subjects);
  }
  std::string operator()(const facts::Founding& said) {
    return fmt::format("founded {} as {}", said.name, said.keeper_name);
  }
  std::string operator()(const facts::Invitation& said) {
    return fmt::format("invited {} as {}", said.keeper_name.empty() ? "somebody" : said.keeper_name,
                       RoleWord(said.role));
  }
  std::string operator()(const facts::Joining& said) {
    return fmt::format("joined as {}", said.keeper_name);
  }
  std::string operator()(const facts::Restatement& said) {
    return fmt::format("stated again {}: {}", PlaceText(said.told->header), Told(*said.told));
  }
  std::string operator()(const facts::GroupEntry& said) {
    return fmt::format("entered group {} ({}{}{})", said.name, said.taxon, Also(said.locality),
                       Also(said.line));
  }
  std::string operator()(const facts::AnimalEntry& said) {
    return fmt::format("entered {} ({}) in group {}", said.name, SexWord(said.sex),
                       refs_.Name(said.group));
  }
  std::string operator()(const facts::Moult& said) {
    const std::string number =
        said.moult_count == 0 ? "" : fmt::format(", moult {}", said.moult_count);
    return fmt::format("{} moulted on {}{}", refs_.Name(said.animal), ToText(said.day), number);
  }
  std::string operator()(const facts::Maturity& said) {
    return fmt::format("{} became mature on {}", refs_.Name(said.animal), ToText(said.day));
  }
  std::string operator()(const facts::SexClaim& said) {
    return fmt::format("{} was sexed {} on {}{}", refs_.Name(said.animal), SexWord(said.sex),
                       ToText(said.day), Also(MethodWord(said.method)));
  }
  std::string operator()(const facts::Death& said) {
    return fmt::format("{} died on {}{}", refs_.Name(said.animal), ToText(said.day),
                       Because(said.cause));
  }
  std::string operator()(const facts::Gift& said) {
    if (said.due_loans.empty()) {
      return fmt::format("gave {} to {}", refs_.Name(said.animal), refs_.Name(said.receiver));
    }
    std::string dues;
    for (const LoanId& loan : said.due_loans) {
      dues += (dues.empty() ? "" : ", ") + refs_.Name(loan);
    }
    return fmt::format("offered {} to {} with the due of loan {}", refs_.Name(said.animal),
                       refs_.Name(said.receiver), dues);
  }
  std::string operator()(const facts::NameUse& said) {
    return fmt::format("stated {} as {} name of {}{}", said.name, NameStatusWord(said.status),
                       refs_.Name(said.group), Because(said.source));
  }
  std::string operator()(const facts::GroupMove& said) {
    return fmt::format("moved {} animals to group {}{}", said.animals.size(),
                       refs_.Name(said.group), Because(said.reason));
  }
  std::string operator()(const facts::GroupClosure& said) {
    return fmt::format("merged group {} into {}{}", refs_.Name(said.group),
                       refs_.Name(said.successor), Because(said.reason));
  }
  std::string operator()(const facts::FounderKinship& said) {
    return fmt::format("took founders of {} as {}{}", refs_.Name(said.group),
                       said.numerator == 0
                           ? "unrelated"
                           : "kin by " + FractionText(said.numerator, said.denominator),
                       Because(said.reason));
  }
  std::string operator()(const facts::LoanProposal& said) {
    const facts::Agreement& agreement = said.parsed;
    const std::string name = said.name.empty() ? ToShortText(agreement.loan) : said.name;
    const std::string back =
        agreement.return_day ? fmt::format(" until {}", ToText(*agreement.return_day)) : "";
    return fmt::format("proposed loan {}: {} from {} to {}{}", name, refs_.Name(agreement.animal),
                       refs_.Name(agreement.lender), refs_.Name(agreement.borrower), back);
  }
  std::string operator()(const facts::LoanAmendment& said) {
    const facts::Agreement& agreement = said.parsed;
    const std::string back =
        agreement.return_day ? fmt::format(", until {}", ToText(*agreement.return_day)) : "";
    return fmt::format("proposed another version of loan {}{}", refs_.Name(agreement.loan), back);
  }
  std::string operator()(const facts::LoanSignature& said) {
    return fmt::format("signed loan {}", refs_.Name(said.loan));
  }
  std::string operator()(const facts::LoanRefusal& said) {
    return fmt::format("declined loan {}{}", refs_.Name(said.loan), Because(said.reason));
  }
  std::string operator()(const facts::Dispatch& said) {
    return fmt::format("sent the animal of loan {} to {} on {}", refs_.Name(said.loan),
                       refs_.Name(said.receiver), ToText(said.day));
  }
  std::string operator()(const facts::Receipt& said) {
    return fmt::format("received the animal of loan {} on {}{}", refs_.Name(said.loan),
                       ToText(said.day), Also(ConditionWord(said.condition)));
  }
  std::string operator()(const facts::LoanClosure& said) {
    return fmt::format("closed loan {} on {}{}", refs_.Name(said.loan), ToText(said.day),
                       Because(said.reason));
  }
  std::string operator()(const facts::Pairing& said) {
    return fmt::format("paired {} with {} on {}{}", refs_.Name(said.male), refs_.Name(said.female),
                       ToText(said.day), Also(OutcomeWord(said.outcome)));
  }
  std::string operator()(const facts::SacLaying& said) {
    return fmt::format("{} laid sac {} on {}", refs_.Name(said.female), refs_.Name(said.clutch),
                       ToText(said.day));
  }
  std::string operator()(const facts::SacPulling& said) {
    return fmt::format("pulled sac {} on {}", refs_.Name(said.clutch), ToText(said.day));
  }
  std::string operator()(const facts::SacLoss& said) {
    return fmt::format("lost sac {} on {}{}", refs_.Name(said.clutch), ToText(said.day),
                       Because(said.cause));
  }
  std::string operator()(const facts::Count& said) {
    const std::string_view again = said.count_token.empty() ? "" : " again";
    return fmt::format("counted clutch {}{} on {}: {} alive, {} dead", refs_.Name(said.clutch),
                       again, ToText(said.day), said.slings_living, said.slings_dead);
  }
  std::string operator()(const facts::SplitRecord& said) {
    std::string shares;
    for (const facts::SplitShare& share : said.shares) {
      shares += fmt::format("{}{} {}", shares.empty() ? "" : ", ", refs_.Name(share.keeper),
                            share.slings);
    }
    return fmt::format("shared out clutch {}: {}", refs_.Name(said.clutch), shares);
  }
  std::string operator()(const facts::LotDispatch& said) {
    return fmt::format("sent {} of lot {} to {} on {}", Slings(said.slings), refs_.Name(said.lot),
                       refs_.Name(said.receiver), ToText(said.day));
  }
  std::string operator()(const facts::LotReceipt& said) {
    return fmt::format("received lot {} on {}: {} alive, {} dead", refs_.Name(said.parcel),
                       ToText(said.day), said.slings_living, said.slings_dead);
  }
  std::string operator()(const facts::LotLoss& said) {
    return fmt::format("lost {} of lot {} on {}{}", Slings(said.slings), refs_.Name(said.lot),
                       ToText(said.day), Because(said.cause));
  }
  std::string operator()(const facts::LotRaising& said) {
    return fmt::format("raised {} ({}) out of lot {} on {}", said.name, SexWord(said.sex),
                       refs_.Name(said.lot), ToText(said.day));
  }
  std::string operator()(const facts::PlanVeto& said) {
    const std::string whose = said.animal.empty() ? "all own animals" : refs_.Name(said.animal);
    const std::string other =
        said.other_animal.empty() ? refs_.Name(said.other_keeper) : refs_.Name(said.other_animal);
    return fmt::format("{} {} {} plans{}",
                       said.stance == facts::VetoStance::kLifted ? "let" : "kept", whose,
                       said.stance == facts::VetoStance::kLifted ? "into" : "out of",
                       other.empty() ? "" : " with " + other);
  }
  std::string operator()(const facts::WantEntry& said) {
    const std::string count = said.count == 0 ? "" : fmt::format("{} ", said.count);
    return fmt::format("wants {}{} of group {}{}", count, WantWord(said.kind),
                       refs_.Name(said.group), Because(said.note));
  }
  std::string operator()(const facts::WantEnd& said) {
    return fmt::format("ended want {}", ToShortText(said.want));
  }

  std::string operator()(const facts::Objection& said) {
    return fmt::format("objected to the {} of clutch {}: {}",
                       said.count_token.empty() ? "split" : "count", refs_.Name(said.clutch),
                       said.reason);
  }
  std::string operator()(const facts::ClashWithdrawal& said) {
    return fmt::format("withdrew clash {}{}", ToShortText(said.clash), Because(said.reason));
  }
  std::string operator()(const facts::ClashSettlement& said) {
    return fmt::format("settled clash {}, or proposed to: {}", ToShortText(said.clash), said.words);
  }
  std::string operator()(const facts::ClashSignature& said) {
    return fmt::format("signed a settlement of clash {}", ToShortText(said.clash));
  }
  std::string operator()(const facts::LateHatching& said) {
    return fmt::format("{} more of clutch {} hatched on {}", Slings(said.slings),
                       refs_.Name(said.clutch), ToText(said.day));
  }
  std::string operator()(const facts::ShareWaiver& said) {
    const std::string share = fmt::format("the share of {} in clutch {}", refs_.Name(said.party),
                                          refs_.Name(said.clutch));
    if (said.receiver.empty()) return fmt::format("gave up {}{}", share, Because(said.reason));
    return fmt::format("passed {} on to {}{}", share, refs_.Name(said.receiver),
                       Because(said.reason));
  }
  std::string operator()(const facts::LotReturn& said) {
    return fmt::format("gave {} of lot {} back to the clutch on {}{}", Slings(said.slings),
                       refs_.Name(said.lot), ToText(said.day), Because(said.reason));
  }
  std::string operator()(const facts::LotPassing& said) {
    return fmt::format("passed {} of lot {} on to {} on {}", Slings(said.slings),
                       refs_.Name(said.lot), refs_.Name(said.receiver), ToText(said.day));
  }
  std::string operator()(const facts::LotDivision& said) {
    return fmt::format("divided {} off lot {} on {}", Slings(said.slings), refs_.Name(said.lot),
                       ToText(said.day));
  }
  std::string operator()(const facts::LotMerging& said) {
    return fmt::format(
        "merged {} into lot {} on {}",
        said.merged.size() == 1 ? "a lot" : fmt::format("{} lots", said.merged.size()),
        refs_.Name(said.lot), ToText(said.day));
  }
  std::string operator()(const facts::Succession& said) {
    if (said.successor.empty()) return fmt::format("{} acts for itself", refs_.Name(said.keeper));
    return fmt::format("{} acts for {} from {} on{}", refs_.Name(said.successor),
                       refs_.Name(said.keeper), ToText(said.day), Because(said.reason));
  }
  std::string operator()(const facts::SacGift& said) {
    const std::string due =
        said.due_loan.empty() ? ""
                              : fmt::format(", with the due of loan {}", refs_.Name(said.due_loan));
    return fmt::format("offered sac {} to {}{}", refs_.Name(said.clutch), refs_.Name(said.receiver),
                       due);
  }
  std::string operator()(const facts::DueAcceptance& said) {
    const std::string what = said.animal.empty() ? fmt::format("sac {}", refs_.Name(said.clutch))
                                                 : refs_.Name(said.animal);
    return fmt::format("accepted {} with its dues", what);
  }
  std::string operator()(const facts::TermsForm& said) {
    return fmt::format("saved terms {}{}", said.name, said.form_token.empty() ? "" : " anew");
  }
  std::string operator()(const facts::DeviceInvitation& said) {
    return fmt::format("invited a device of {}{}", refs_.Name(said.keeper),
                       said.label.empty() ? "" : fmt::format(" ({})", said.label));
  }
  std::string operator()(const facts::DeviceJoining& said) {
    return fmt::format("joined as a further device of {}", refs_.Name(said.keeper));
  }
  std::string operator()(const facts::Revocation& said) {
    return fmt::format("revoked device {} after commit {} of life {}{}", ToShortText(said.device),
                       said.seq, said.incarnation, Because(said.reason));
  }
  std::string operator()(const facts::Adoption& said) {
    return fmt::format("adopted {} of device {}: {}", PlaceText(said.told->header),
                       ToShortText(said.told->header.device), Told(*said.told));
  }
  std::string operator()(const facts::KeyRotation& said) {
    return fmt::format("went on with another key, as device {}",
                       ToShortText(DeviceOf(said.device_key)));
  }
  std::string operator()(const facts::RoleChange& said) {
    return fmt::format("made {} {}, or moved to{}", refs_.Name(said.keeper), RoleWord(said.role),
                       Because(said.reason));
  }
  std::string operator()(const facts::MotionSignature& said) {
    return fmt::format("signed motion {}", ToShortText(said.motion));
  }
  std::string operator()(const facts::Leaving& said) {
    return fmt::format("left the cooperative{}", Because(said.reason));
  }
  std::string operator()(const facts::LeaseTaking& said) {
    const std::string what =
        said.animal.empty() ? fmt::format("{} of lot {}", Slings(said.slings), refs_.Name(said.lot))
                            : refs_.Name(said.animal);
    return fmt::format("leased {} until {}", what, ToText(said.until));
  }
  std::string operator()(const facts::LeaseRelease& said) {
    return fmt::format("gave up the lease on {}", said.animal.empty()
                                                      ? "lot " + refs_.Name(said.lot)
                                                      : refs_.Name(said.animal));
  }
  std::string operator()(const facts::SealingKeyEntry& /*said*/) {
    return "stated the key of a device to seal to";
  }
  // Not for whom: that somebody's address is open to somebody is no news for the others.
  std::string operator()(const facts::SealedEntry& said) {
    return fmt::format("{} a sealed {} of {} {}", said.sealed.empty() ? "took back" : "wrote",
                       FieldWord(said.field), KindWord(registry::KindOf(said.kind)),
                       refs_.Name(registry::KindOf(said.kind), said.subject));
  }
  std::string operator()(const facts::Resealing& said) {
    return fmt::format("sealed note {} for a further device", ToShortText(said.note));
  }
  std::string operator()(const facts::CountWitness& said) {
    return fmt::format("confirmed the count of clutch {} on {}", refs_.Name(said.clutch),
                       ToText(said.day));
  }

 private:
  std::string Told(const facts::Commit& commit) {
    std::string told;
    for (const facts::Statement& statement : commit.statements) {
      told += (told.empty() ? "" : "; ") + std::visit(*this, statement);
    }
    return told;
  }

  RefBook& refs_;
};

v1::VerdictKind KindOf(registry::VerdictKind kind) {
  switch (kind) {
    case registry::VerdictKind::kCounted:
      return v1::VERDICT_KIND_COUNTED;
    case registry::VerdictKind::kSuperseded:
      return v1::VERDICT_KIND_SUPERSEDED;
    case registry::VerdictKind::kRefused:
      return v1::VERDICT_KIND_REFUSED;
    case registry::VerdictKind::kVoid:
      return v1::VERDICT_KIND_VOID;
    case registry::VerdictKind::kHeld:
      return v1::VERDICT_KIND_HELD;
  }
  return v1::VERDICT_KIND_UNSPECIFIED;
}

// Who wrote a commit; nobody where the device is not a member's.
absl::StatusOr<KeeperId> AuthorOf(const View& view, const facts::Commit& commit) {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> device,
                      registry::Read<registry::Device>(view.source(), commit.header.device));
  return device ? device->keeper : KeeperId{};
}

}  // namespace

v1::Verdict VerdictMessage(const registry::Verdict& verdict) {
  v1::Verdict message;
  message.set_kind(KindOf(verdict.kind));
  message.set_reason(verdict.reason);
  message.set_message(verdict.message);
  message.set_winner_arrival(Narrow(verdict.winner_arrival));
  return message;
}

absl::StatusOr<v1::LogEntry> LogEntryOf(const View& view, const facts::Commit& commit,
                                        std::uint64_t arrival, const facts::ArrivalTimes& times,
                                        const registry::Verdict& verdict) {
  RefBook refs(view.source());
  v1::LogEntry entry;
  entry.set_arrival(Narrow(arrival));
  entry.set_hash(ToHex(commit.hash));
  BP_ASSIGN_OR_RETURN(const KeeperId author, AuthorOf(view, commit));
  if (!author.empty()) *entry.mutable_keeper() = refs.Ref(author);
  entry.set_device_id(ToText(commit.header.device));
  entry.set_incarnation(commit.header.incarnation);
  entry.set_seq(Narrow(commit.header.seq));
  entry.set_clock(InstantText(commit.header.clock_ms));
  if (arrival > 0) entry.set_arrival_time(InstantText(times.time_ms));
  if (times.first_time_ms) entry.set_first_arrival_time(InstantText(*times.first_time_ms));
  Speaker speaker(refs);
  for (const facts::Statement& statement : commit.statements) {
    entry.add_statements(std::visit(speaker, statement));
  }
  *entry.mutable_verdict() = VerdictMessage(verdict);
  BP_RETURN_IF_ERROR(refs.status());
  return entry;
}

}  // namespace broodpact::replica
