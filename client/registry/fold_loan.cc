// Agreements: LoanProposal, LoanSignature, LoanRefusal, LoanClosure.

#include <algorithm>
#include <utility>

#include "fmt/core.h"

#include "client/registry/internal/amendment.h"
#include "client/registry/internal/basis.h"
#include "client/registry/internal/leases.h"
#include "client/registry/internal/rules.h"

namespace broodpact::registry {
namespace {

bool IsOpen(const Loan& loan) {
  return loan.state == LoanState::kOffered || loan.state == LoanState::kAskedFor;
}

std::string_view Word(LoanState state) {
  switch (state) {
    case LoanState::kOffered:
    case LoanState::kAskedFor:
      return "not signed by all";
    case LoanState::kInForce:
      return "in force";
    case LoanState::kDeclined:
      return "declined";
    case LoanState::kSuperseded:
      return "superseded by another loan";
    case LoanState::kClosed:
      return "closed";
  }
  return "";
}

Finding DigestOther(const Loan& loan) {
  return Refused("DIGEST_OTHER", fmt::format("what you speak of is not the agreement of {}; read "
                                             "it again and sign that",
                                             NameOf(loan)));
}

Finding CheckParty(Case& c, const LoanId& id) {
  const Loan* loan = c.state.Find<Loan>(id);
  if (loan == nullptr) return UnknownSubject("loan", id.bytes);
  if (IsPartyOf(*loan, c.author())) return std::nullopt;
  return Void("NOT_PARTY", fmt::format("you are no party of {}", NameOf(*loan)));
}

// The lender still has what it promises.
Finding CheckLendable(Case& c, const AnimalId& id, const KeeperId& lender) {
  const Animal* animal = c.state.Find<Animal>(id);
  if (animal == nullptr) return UnknownSubject("animal", id.bytes);
  if (animal->owner != lender) {
    return Refused("NOT_OWNER",
                   fmt::format("{} is owned by {} and cannot be lent by {}", NameOf(*animal),
                               NameOf(c, animal->owner), NameOf(c, lender)));
  }
  if (animal->death.has_value()) {
    return Refused("ALREADY_DEAD", fmt::format("{} is recorded as dead on {}", NameOf(*animal),
                                               ToText(*animal->death)));
  }
  return std::nullopt;
}

// The loan lost its animal to one that was in force before.
Finding Lose(Case& c, const Loan& loan, const Animal& animal) {
  const Loan& winner = Known<Loan>(c, animal.loan);
  const std::string message =
      fmt::format("{} was promised to {} by {} before the last signature under {} came in",
                  NameOf(animal), NameOf(c, winner.borrower), NameOf(winner), NameOf(loan));
  std::vector<KeeperId> parties = loan.parties;
  parties.insert(parties.end(), winner.parties.begin(), winner.parties.end());
  c.aftermath.lost_loan = {.loan = loan.id, .winner = winner.id, .reason = message};
  c.aftermath.clash = ClashOf(c, {.kind = Kind::kAnimal,
                                  .subject = animal.id.bytes,
                                  .reason = "ANIMAL_PROMISED",
                                  .message = message,
                                  .parties = std::move(parties),
                                  .winner_arrival = winner.in_force_arrival});
  return Superseded("ANIMAL_PROMISED", message, winner.in_force_arrival);
}

// The lender promises the animal by its own signature, which a lease of another of its devices
// forbids; and whoever signs last completes what the lender said.
Finding CheckPromise(Case& c, const Loan& loan, bool last) {
  const Animal& animal = Known<Animal>(c, loan.animal);
  if (c.author() == loan.lender) return CheckLease(c, animal, LeaseKind::kOwnership, "loan");
  if (!last) return std::nullopt;
  const auto said =
      std::find_if(loan.signatures.begin(), loan.signatures.end(),
                   [&](const SignatureRecord& record) { return record.keeper == loan.lender; });
  if (said == loan.signatures.end()) return std::nullopt;
  return CheckSaidUnderLease(c, animal, said->entry.arrival, "loan");
}

Finding CheckProposal(Case& c, const facts::Agreement& agreement) {
  if (c.author() != agreement.lender && c.author() != agreement.borrower) {
    return Void("NOT_PARTY", "a loan is proposed by its lender or its borrower");
  }
  if (agreement.cooperative != c.state.cooperative()->id) {
    return Refused("COOPERATIVE_OTHER", "the agreement is of another cooperative");
  }
  if (c.state.Find<Loan>(agreement.loan) != nullptr) return IdTaken("loan", agreement.loan.bytes);
  if (Finding f = CheckLendable(c, agreement.animal, agreement.lender)) return f;
  if (c.author() == agreement.lender) {
    const Animal& animal = Known<Animal>(c, agreement.animal);
    if (Finding f = CheckLease(c, animal, LeaseKind::kOwnership, "loan")) return f;
  }
  for (const facts::Party& party : agreement.terms.parties) {
    if (IsKeeper(c, party.keeper)) continue;
    return Refused("UNKNOWN_PARTY",
                   fmt::format("{} is no keeper of this cooperative", NameOf(c, party.keeper)));
  }
  return CheckTermsNames(c, agreement.terms);
}

// Whether a loan is still open for those who have not signed it.
Finding CheckTakesSignatures(Case& c, const Loan& loan) {
  if (IsOpen(loan)) return CheckStillOpen(c, loan.open_until, NameOf(loan));
  const std::string why = loan.reason.empty() ? "" : fmt::format(": {}", loan.reason);
  return Superseded("LOAN_STATE",
                    fmt::format("{} is {} already{}", NameOf(loan), Word(loan.state), why),
                    loan.ended.arrival);
}

}  // namespace

Finding Apply(Case& c, const facts::LoanProposal& s) {
  const facts::Agreement& agreement = s.parsed;
  if (Finding f = CheckProposal(c, agreement)) return f;

  Loan& loan = c.state.Create<Loan>(agreement.loan);
  loan.name = s.name;
  loan.agreement = s.agreement;
  loan.agreement_digest = s.agreement_digest;
  loan.animal = agreement.animal;
  loan.lender = agreement.lender;
  loan.borrower = agreement.borrower;
  loan.return_day = agreement.return_day;
  loan.open_until = s.open_until;
  loan.state = c.author() == agreement.lender ? LoanState::kOffered : LoanState::kAskedFor;
  for (const facts::Party& party : agreement.terms.parties) loan.parties.push_back(party.keeper);
  loan.signatures = {{.keeper = c.author(), .entry = c.entry}};
  loan.entry = c.entry;
  ++c.state.EditCooperative().loans;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LoanSignature& s) {
  const Loan* loan = c.state.Find<Loan>(s.loan);
  if (loan != nullptr && s.agreement_digest != loan->agreement_digest) {
    const std::optional<std::size_t> amendment = AmendmentOf(*loan, s.agreement_digest);
    if (amendment.has_value()) return SignAmendment(c, s.loan, *amendment);
  }
  if (Finding f = CheckParty(c, s.loan)) return f;
  if (s.agreement_digest != loan->agreement_digest) return DigestOther(*loan);
  const bool was_in_force = loan->state == LoanState::kInForce || loan->state == LoanState::kClosed;
  const bool stands = IsOpen(*loan) || was_in_force;
  if (stands && HasSigned(loan->signatures, c.author())) return std::nullopt;
  if (Finding f = CheckTakesSignatures(c, *loan)) return f;

  // Of the parties, all distinct, everyone but the author has signed: this signature is the last.
  const bool last = loan->signatures.size() + 1 == loan->parties.size();
  if (last) {
    if (Finding f = CheckLendable(c, loan->animal, loan->lender)) return f;
    const Animal* animal = c.state.Find<Animal>(loan->animal);
    if (!animal->loan.empty()) return Lose(c, *loan, *animal);
  }
  if (Finding f = CheckPromise(c, *loan, last)) return f;
  if (last) c.state.Edit<Animal>(loan->animal).loan = s.loan;
  Loan& signed_loan = c.state.Edit<Loan>(s.loan);
  signed_loan.signatures.push_back({.keeper = c.author(), .entry = c.entry});
  if (last) {
    signed_loan.state = LoanState::kInForce;
    signed_loan.in_force_arrival = c.entry.arrival;
    signed_loan.in_force_time_ms = LastSigned(signed_loan.signatures);
  }
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LoanRefusal& s) {
  const Loan* loan = c.state.Find<Loan>(s.loan);
  const bool of_amendment = loan != nullptr && s.agreement_digest != Hash{} &&
                            s.agreement_digest != loan->agreement_digest;
  if (of_amendment) {
    const std::optional<std::size_t> amendment = AmendmentOf(*loan, s.agreement_digest);
    if (amendment.has_value()) return RefuseAmendment(c, s, *amendment);
  }
  if (Finding f = CheckParty(c, s.loan)) return f;
  if (of_amendment) return DigestOther(*loan);
  if (!IsOpen(*loan)) {
    const bool in_force = loan->state == LoanState::kInForce;
    return Superseded("LOAN_STATE",
                      fmt::format("{} is {} already", NameOf(*loan), Word(loan->state)),
                      in_force ? loan->in_force_arrival : loan->ended.arrival);
  }
  Loan& declined = c.state.Edit<Loan>(s.loan);
  declined.state = LoanState::kDeclined;
  declined.reason = s.reason;
  declined.ended = c.entry;
  return std::nullopt;
}

Finding Apply(Case& c, const facts::LoanClosure& s) {
  const Loan* loan = c.state.Find<Loan>(s.loan);
  if (loan == nullptr) return UnknownSubject("loan", s.loan.bytes);
  if (c.author() != loan->lender && c.author() != loan->borrower) {
    return Void("NOT_PARTY", fmt::format("{} is closed by {} or {}", NameOf(*loan),
                                         NameOf(c, loan->lender), NameOf(c, loan->borrower)));
  }
  if (loan->state == LoanState::kClosed) {
    return Superseded("LOAN_STATE", fmt::format("{} is closed already", NameOf(*loan)),
                      loan->ended.arrival);
  }
  if (loan->state != LoanState::kInForce) {
    return Refused("LOAN_STATE",
                   fmt::format("{} is {}, not in force", NameOf(*loan), Word(loan->state)));
  }
  const Animal* animal = c.state.Find<Animal>(loan->animal);
  if (animal == nullptr) return UnknownSubject("animal", loan->animal.bytes);
  if (animal->holder != loan->lender && !animal->death.has_value()) {
    return Refused("ANIMAL_AWAY",
                   fmt::format("{} is still with {}; send it back to {} first", NameOf(*animal),
                               NameOf(c, animal->holder), NameOf(c, loan->lender)));
  }

  FlagFuture(c, s.day);
  Animal& back = c.state.Edit<Animal>(loan->animal);
  back.loan = {};
  back.receiver = {};
  Loan& closed = c.state.Edit<Loan>(s.loan);
  closed.state = LoanState::kClosed;
  closed.closure = s.day;
  closed.reason = s.reason;
  closed.ended = c.entry;
  return std::nullopt;
}

}  // namespace broodpact::registry
