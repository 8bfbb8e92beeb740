#pragma once

// What a keeper states about loans. Errors as in acts_animal.h.

#include <optional>
#include <string>

#include "client/facts/terms.h"
#include "client/replica/acting.h"

namespace broodpact::replica {

// A loan to be proposed: its agreement but for the loan's id and the cooperative's.
struct LoanDraft {
  AnimalId animal;
  KeeperId lender;
  KeeperId borrower;
  std::optional<Day> return_day;
  facts::Terms terms;
  std::string name;  // empty: called by its id
};

// What proposes the loan, under a fresh id. Errors: as ProposeLoan.
absl::StatusOr<facts::LoanProposal> ProposalOf(const Replica& replica, const LoanDraft& draft);

// Offers the animal, or asks for it, according to who this replica's keeper is of the two; signs
// the agreement for that keeper.
// Errors: INVALID_ARGUMENT with reason DATE_PAST (due back before today); those of ParseAgreement.
absl::StatusOr<Made<LoanId>> ProposeLoan(Replica& replica, const LoanDraft& draft);

// Signs the agreement as this replica knows it.
absl::StatusOr<Acted> SignLoan(Replica& replica, const LoanId& loan);
absl::StatusOr<Acted> RefuseLoan(Replica& replica, const LoanId& loan, const std::string& reason);

// Sends the animal from lender to borrower, or back.
absl::StatusOr<Acted> SendAnimal(Replica& replica, const LoanId& loan, const DaySpan& day);
absl::StatusOr<Acted> ReturnAnimal(Replica& replica, const LoanId& loan, const DaySpan& day);

absl::StatusOr<Acted> ReceiveAnimal(Replica& replica, const facts::Receipt& receipt);
absl::StatusOr<Acted> CloseLoan(Replica& replica, const facts::LoanClosure& closure);

}  // namespace broodpact::replica
