// broodpact loan offer, broodpact loan ask: terms from the command line, previewed or proposed.

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/loan.h"
#include "cli/show/show.h"
#include "client/replica/acts_loan.h"
#include "client/shares/split.h"

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

absl::StatusOr<replica::LoanDraft> DraftOf(const Desk& desk, const replica::Replica& replica,
                                           const ProposalOptions& options,
                                           const registry::Animal& animal,
                                           const KeeperId& borrower) {
  const replica::View view = ViewOf(replica);
  replica::LoanDraft draft{.animal = animal.id,
                           .lender = animal.owner,
                           .borrower = borrower,
                           .return_day = {},
                           .terms = {},
                           .name = options.name,
                           .open_until = {}};
  BP_RETURN_IF_ERROR(ReadDay(desk, "--until", options.until, draft.return_day));
  BP_RETURN_IF_ERROR(ReadDay(desk, "--open-until", options.open_until, draft.open_until));
  BP_ASSIGN_OR_RETURN(draft.terms,
                      ParseTerms(options.terms, PartiesOf(animal, animal.owner, borrower),
                                 [&](std::string_view name) { return view.KeeperNamed(name); }));
  return draft;
}

// The version that the options make of a loan's agreement.
absl::StatusOr<replica::AmendmentDraft> AmendmentOf(const Desk& desk,
                                                    const replica::Replica& replica,
                                                    const AmendLoanOptions& options,
                                                    const registry::Loan& loan) {
  BP_ASSIGN_OR_RETURN(facts::Agreement present, facts::ParseAgreement(loan.agreement));
  const replica::View view = ViewOf(replica);
  replica::AmendmentDraft draft{.loan = loan.id,
                                .return_day = present.return_day,
                                .terms = std::move(present.terms),
                                .clutches = {},
                                .open_until = {}};
  BP_RETURN_IF_ERROR(ReadDay(desk, "--until", options.until, draft.return_day));
  BP_RETURN_IF_ERROR(ReadDay(desk, "--open-until", options.open_until, draft.open_until));
  for (const std::string& name : options.clutches) {
    BP_ASSIGN_OR_RETURN(draft.clutches.emplace_back(), view.ClutchNamed(name));
  }
  if (options.terms == TermsOptions{}) return draft;
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      replica::Known<registry::Animal>(replica, loan.animal, "animal"));
  BP_ASSIGN_OR_RETURN(draft.terms,
                      ParseTerms(options.terms, PartiesOf(animal, loan.lender, loan.borrower),
                                 [&](std::string_view name) { return view.KeeperNamed(name); }));
  return draft;
}

absl::StatusOr<std::vector<std::string>> NamesOf(const replica::View& view,
                                                 const facts::Terms& terms) {
  std::vector<std::string> names;
  for (const facts::Party& party : terms.parties) {
    BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, view.Keeper(party.keeper));
    names.push_back(keeper.name());
  }
  return names;
}

// What the terms say, and what they imply for a number of slings.
absl::Status Preview(const Desk& desk, const replica::Replica& replica, const facts::Terms& terms,
                     std::uint32_t slings) {
  BP_ASSIGN_OR_RETURN(const std::vector<std::string> names, NamesOf(ViewOf(replica), terms));
  BP_ASSIGN_OR_RETURN(const shares::Split split, shares::SplitOf(terms, slings));
  v1::Split message;
  message.set_slings_counted(slings);
  for (const std::string& clause : shares::Clauses(terms, names)) message.add_working(clause);
  for (const shares::Step& step : split.working) {
    message.add_working(shares::Sentence(step, terms, names));
  }
  for (std::size_t i = 0; i < split.slings.size(); ++i) {
    v1::SplitPart& part = *message.add_parts();
    *part.mutable_keeper() = RefOf(terms.parties[i].keeper, names[i]);
    part.set_slings(split.slings[i]);
  }
  BP_RETURN_IF_ERROR(Present(desk, message));
  if (desk.terminal.format != Format::kJson) {
    desk.terminal.messages << "Nothing is recorded: this was a preview.\n";
  }
  return absl::OkStatus();
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
  if (options.preview) return Preview(desk, replica, draft.terms, *options.preview);
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
  if (options.preview) return Preview(desk, *replica, draft.terms, *options.preview);
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
