// broodpact loan offer, loan ask, loan amend: terms from the command line, previewed or proposed.

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/loan.h"
#include "cli/commands/terms_help.h"
#include "cli/show/show.h"
#include "client/replica/acts_loan.h"
#include "client/replica/acts_terms.h"

namespace broodpact::cli {
namespace {

// The parties, and their roles by the sex of the animal: who lends a male owns a male.
TermsParties PartiesOf(const registry::Animal& animal, const KeeperId& lender,
                       const KeeperId& borrower) {
  const bool lends_female = animal.sex == facts::Sex::kFemale;
  const auto male_owner = facts::PartyRole::kMaleOwner;
  const auto female_owner = facts::PartyRole::kFemaleOwner;
  return {.lender = lender,
          .borrower = borrower,
          .lender_role = lends_female ? female_owner : male_owner,
          .borrower_role = lends_female ? male_owner : female_owner};
}

// Reads a day if the option was given; leaves what was there if not.
absl::Status ReadDay(const Desk& desk, std::string_view option, const std::string& text,
                     std::optional<Day>& day) {
  if (text.empty()) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(day, OneDayOf(desk, option, text));
  return absl::OkStatus();
}

// The terms that the options make: those of a form if they name one, but for what they say.
absl::StatusOr<facts::Terms> TermsBy(const Desk& desk, const replica::Replica& replica,
                                     const AgreementOptions& options, const TermsParties& parties) {
  const replica::View view = ViewOf(replica);
  std::optional<facts::Terms> form;
  if (!options.form.empty()) {
    BP_ASSIGN_OR_RETURN(const FormId id, view.FormNamed(options.form));
    BP_ASSIGN_OR_RETURN(form, replica::TermsOfForm(replica, id));
  }
  return ParseTerms(options.terms, parties, LookupIn(desk, view), form ? &*form : nullptr);
}

absl::StatusOr<replica::LoanDraft> DraftOf(const Desk& desk, const replica::Replica& replica,
                                           const ProposalOptions& options,
                                           const registry::Animal& animal,
                                           const KeeperId& borrower) {
  const AgreementOptions& agreement = options.agreement;
  replica::LoanDraft draft{.animal = animal.id,
                           .lender = animal.owner,
                           .borrower = borrower,
                           .return_day = {},
                           .terms = {},
                           .name = options.name,
                           .open_until = {}};
  BP_RETURN_IF_ERROR(ReadDay(desk, "--until", agreement.until, draft.return_day));
  BP_RETURN_IF_ERROR(ReadDay(desk, "--open-until", agreement.open_until, draft.open_until));
  BP_ASSIGN_OR_RETURN(draft.terms,
                      TermsBy(desk, replica, agreement, PartiesOf(animal, animal.owner, borrower)));
  return draft;
}

// The version that the options make of a loan's agreement.
absl::StatusOr<replica::AmendmentDraft> AmendmentOf(const Desk& desk,
                                                    const replica::Replica& replica,
                                                    const AmendLoanOptions& options,
                                                    const registry::Loan& loan) {
  const AgreementOptions& changed = options.agreement;
  BP_ASSIGN_OR_RETURN(facts::Agreement present, facts::ParseAgreement(loan.agreement));
  const replica::View view = ViewOf(replica);
  replica::AmendmentDraft draft{.loan = loan.id,
                                .return_day = present.return_day,
                                .terms = std::move(present.terms),
                                .clutches = {},
                                .open_until = {}};
  BP_RETURN_IF_ERROR(ReadDay(desk, "--until", changed.until, draft.return_day));
  BP_RETURN_IF_ERROR(ReadDay(desk, "--open-until", changed.open_until, draft.open_until));
  for (const std::string& name : options.clutches) {
    BP_ASSIGN_OR_RETURN(draft.clutches.emplace_back(), view.ClutchNamed(name));
  }
  if (changed.form.empty() && changed.terms == TermsOptions{}) return draft;
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      replica::Known<registry::Animal>(replica, loan.animal, "animal"));
  BP_ASSIGN_OR_RETURN(
      draft.terms, TermsBy(desk, replica, changed, PartiesOf(animal, loan.lender, loan.borrower)));
  return draft;
}

bool IsPreview(const AgreementOptions& options) {
  return options.preview.has_value() || !options.curve.empty();
}

// What the terms say, and what they imply for a number of slings or for many.
absl::Status Preview(const Desk& desk, const replica::View& view, const facts::Terms& terms,
                     const std::optional<Day>& return_day, const AgreementOptions& options) {
  if (!options.curve.empty()) {
    BP_ASSIGN_OR_RETURN(const shares::SizeRange range, SizeRangeOf(options.curve));
    BP_ASSIGN_OR_RETURN(const v1::SplitCurve curve, view.CurveOfTerms(terms, range));
    BP_RETURN_IF_ERROR(PresentCurve(desk, curve, options.svg));
  } else {
    const std::uint32_t slings = options.preview.value_or(0);  // IsPreview: it is said
    BP_ASSIGN_OR_RETURN(const v1::Split split, view.SplitOfTerms(terms, return_day, slings));
    BP_RETURN_IF_ERROR(Present(desk, split));
    if (desk.terminal.format != Format::kJson) PrintFindings(desk.terminal, split.findings());
  }
  if (desk.terminal.format != Format::kJson) {
    desk.terminal.messages << "Nothing is recorded: this was a preview.\n";
  }
  return absl::OkStatus();
}

// Says what is remarkable about terms before they are signed.
// Errors: as CheckFindings, unless they are to be signed as they are.
absl::Status Examine(const Desk& desk, const replica::View& view, const facts::Terms& terms,
                     const std::optional<Day>& return_day, const AgreementOptions& options) {
  BP_ASSIGN_OR_RETURN(const v1::Split tried, view.SplitOfTerms(terms, return_day, 0));
  PrintFindings(desk.terminal, tried.findings());
  return options.as_is ? absl::OkStatus() : CheckFindings(tried.findings());
}

// Who has yet to sign, for the sentence "Waiting for ...".
std::string OthersOf(const v1::Loan& loan, const std::string& self) {
  std::string names;
  for (const v1::LoanSigner& signer : loan.signers()) {
    if (signer.keeper().id() == self || !signer.signature_time().empty()) continue;
    names += (names.empty() ? "" : " and ") + signer.keeper().name();
  }
  return names;
}

absl::Status Propose(const Desk& desk, replica::Replica& replica, const ProposalOptions& options,
                     const registry::Animal& animal, const KeeperId& borrower) {
  BP_ASSIGN_OR_RETURN(const replica::LoanDraft draft,
                      DraftOf(desk, replica, options, animal, borrower));
  if (IsPreview(options.agreement)) {
    return Preview(desk, ViewOf(replica), draft.terms, draft.return_day, options.agreement);
  }
  BP_RETURN_IF_ERROR(
      Examine(desk, ViewOf(replica), draft.terms, draft.return_day, options.agreement));
  BP_ASSIGN_OR_RETURN(const replica::Made<LoanId> made, replica::ProposeLoan(replica, draft));

  const replica::View view = ViewOf(replica);
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, view.Loan(made.id));
  const std::string self = ToText(view.self());
  const std::string until =
      draft.return_day ? fmt::format(" until {}", ToText(*draft.return_day)) : "";
  const std::string what =
      loan.lender().id() == self
          ? fmt::format("Offered {} to {}", loan.animal().name(), loan.borrower().name())
          : fmt::format("Asked {} for {}", loan.lender().name(), loan.animal().name());
  const std::string others = OthersOf(loan, self);
  const std::string state =
      others.empty() ? "It is in force." : fmt::format("Waiting for {} to sign.", others);
  return ReportAct(desk, replica, made.acted,
                   {.message = fmt::format("{}{} (loan {}). {}", what, until, loan.name(), state),
                    .subject = RefOf(made.id, loan.name())});
}

absl::StatusOr<registry::Animal> AnimalNamed(const replica::Replica& replica,
                                             const std::string& name) {
  BP_ASSIGN_OR_RETURN(const AnimalId id, ViewOf(replica).AnimalNamed(name));
  return replica::Known<registry::Animal>(replica, id, "animal");
}

}  // namespace

absl::Status RunAmendLoan(const Desk& desk, const AmendLoanOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const LoanId id, view.LoanNamed(options.loan));
  BP_ASSIGN_OR_RETURN(const registry::Loan loan,
                      replica::Known<registry::Loan>(*replica, id, "loan"));
  BP_ASSIGN_OR_RETURN(const replica::AmendmentDraft draft,
                      AmendmentOf(desk, *replica, options, loan));
  if (IsPreview(options.agreement)) {
    return Preview(desk, view, draft.terms, draft.return_day, options.agreement);
  }
  BP_RETURN_IF_ERROR(Examine(desk, view, draft.terms, draft.return_day, options.agreement));
  BP_ASSIGN_OR_RETURN(const replica::Amended made, AmendLoan(*replica, draft));
  BP_ASSIGN_OR_RETURN(const v1::Loan shown, ViewOf(*replica).Loan(id));
  return ReportAct(
      desk, *replica, made.acted,
      {.message = fmt::format("Proposed other terms for loan {} (version {}). The present ones "
                              "hold until all parties have signed.",
                              shown.name(), ToHex(made.digest).substr(0, 8)),
       .subject = RefOf(id, shown.name())});
}

absl::Status RunOfferLoan(const Desk& desk, const OfferLoanOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      AnimalNamed(*replica, options.proposal.animal));
  if (animal.owner != replica->identity().keeper) {
    return Fail(absl::StatusCode::kPermissionDenied, "NOT_OWNER",
                fmt::format("{} is not yours to offer; to borrow it: broodpact loan ask {}",
                            animal.name, options.proposal.animal));
  }
  BP_ASSIGN_OR_RETURN(const KeeperId borrower, ViewOf(*replica).KeeperNamed(options.to));
  if (borrower == animal.owner) {
    return Fail(absl::StatusCode::kInvalidArgument, "LENDER_IS_BORROWER",
                fmt::format("{} is you; say which other keeper takes {}", options.to, animal.name));
  }
  return Propose(desk, *replica, options.proposal, animal, borrower);
}

absl::Status RunAskForLoan(const Desk& desk, const AskForLoanOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      AnimalNamed(*replica, options.proposal.animal));
  const KeeperId self = replica->identity().keeper;
  if (animal.owner == self) {
    return Fail(absl::StatusCode::kInvalidArgument, "LENDER_IS_BORROWER",
                fmt::format("{} is your own; to lend it: broodpact loan offer {} --to <keeper>",
                            animal.name, options.proposal.animal));
  }
  return Propose(desk, *replica, options.proposal, animal, self);
}

}  // namespace broodpact::cli
