#include "client/replica/acts_loan.h"

namespace broodpact::replica {
namespace {

absl::StatusOr<Acted> Dispatch(Replica& replica, const registry::Loan& loan,
                               const KeeperId& receiver, const DaySpan& day) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, day));
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      Known<registry::Animal>(replica, loan.animal, "animal"));
  return replica.Act({facts::Dispatch{
      .loan = loan.id, .receiver = receiver, .holder_token = animal.holder_token, .day = day}});
}

}  // namespace

absl::StatusOr<facts::LoanProposal> ProposalOf(const Replica& replica, const LoanDraft& draft) {
  if (draft.return_day && *draft.return_day < replica.clock().Today()) {
    return Fail(absl::StatusCode::kInvalidArgument, "DATE_PAST",
                fmt::format("the animal cannot be due back on {}, which is past; name a later day",
                            ToText(*draft.return_day)));
  }
  const facts::Agreement agreement{
      .loan = device::FreshId<LoanId>(replica.randomness()),
      .cooperative = replica.cooperative(),
      .animal = draft.animal,
      .lender = draft.lender,
      .borrower = draft.borrower,
      .return_day = draft.return_day,
      .terms = draft.terms,
  };
  const std::string bytes = facts::BuildAgreement(agreement);
  BP_ASSIGN_OR_RETURN(const facts::Agreement parsed, facts::ParseAgreement(bytes));
  return facts::LoanProposal{
      .agreement = bytes, .agreement_digest = Sha256(bytes), .parsed = parsed, .name = draft.name};
}

absl::StatusOr<Made<LoanId>> ProposeLoan(Replica& replica, const LoanDraft& draft) {
  BP_ASSIGN_OR_RETURN(facts::LoanProposal proposal, ProposalOf(replica, draft));
  const LoanId loan = proposal.parsed.loan;
  return ActMaking(replica, loan, std::move(proposal));
}

absl::StatusOr<Acted> SignLoan(Replica& replica, const LoanId& loan) {
  BP_ASSIGN_OR_RETURN(const registry::Loan known, Known<registry::Loan>(replica, loan, "loan"));
  return replica.Act(
      {facts::LoanSignature{.loan = loan, .agreement_digest = known.agreement_digest}});
}

absl::StatusOr<Acted> RefuseLoan(Replica& replica, const LoanId& loan, const std::string& reason) {
  return replica.Act({facts::LoanRefusal{.loan = loan, .reason = reason}});
}

absl::StatusOr<Acted> SendAnimal(Replica& replica, const LoanId& loan, const DaySpan& day) {
  BP_ASSIGN_OR_RETURN(const registry::Loan known, Known<registry::Loan>(replica, loan, "loan"));
  return Dispatch(replica, known, known.borrower, day);
}

absl::StatusOr<Acted> ReturnAnimal(Replica& replica, const LoanId& loan, const DaySpan& day) {
  BP_ASSIGN_OR_RETURN(const registry::Loan known, Known<registry::Loan>(replica, loan, "loan"));
  return Dispatch(replica, known, known.lender, day);
}

absl::StatusOr<Acted> ReceiveAnimal(Replica& replica, const facts::Receipt& receipt) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, receipt.day));
  return replica.Act({receipt});
}

absl::StatusOr<Acted> CloseLoan(Replica& replica, const facts::LoanClosure& closure) {
  BP_RETURN_IF_ERROR(CheckHasCome(replica, closure.day));
  return replica.Act({closure});
}

}  // namespace broodpact::replica
