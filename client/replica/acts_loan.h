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
  std::string name;               // empty: called by its id
  std::optional<Day> open_until;  // the last day to sign; nothing: no end
};

// What proposes the loan, under a fresh id. Errors: as ProposeLoan.
absl::StatusOr<facts::LoanProposal> ProposalOf(const Replica& replica, const LoanDraft& draft);

// Offers the animal, or asks for it, according to who this replica's keeper is of the two; signs
// the agreement for that keeper.
// Errors: INVALID_ARGUMENT with reason DATE_PAST (due back before today); those of ParseAgreement.
absl::StatusOr<Made<LoanId>> ProposeLoan(Replica& replica, const LoanDraft& draft);

// Another version of a loan's agreement, between the same lender and borrower.
struct AmendmentDraft {
  LoanId loan;
  std::optional<Day> return_day;
  facts::Terms terms;
  std::vector<ClutchId> clutches;  // laid before, and to be shared by it too
  std::optional<Day> open_until;   // the last day to sign; nothing: no end
};

// Proposes the version and signs it for this replica's keeper. Returns its digest.
// Errors: as ProposeLoan.
struct Amended {
  Hash digest{};
  Acted acted{};
};
absl::StatusOr<Amended> AmendLoan(Replica& replica, const AmendmentDraft& draft);

// Signs what waits for signatures, or says no to it: the agreement of a loan that is not in force
// yet, else an amendment. Its digest begins with `digest` (hexadecimal), which may be empty where
// only one is open.
// Errors: NOT_FOUND with reason NO_VERSION (none is open, or none so); INVALID_ARGUMENT with reason
// AMBIGUOUS_VERSION. The messages list what there is.
absl::StatusOr<Acted> SignLoan(Replica& replica, const LoanId& loan, std::string_view digest = {});
absl::StatusOr<Acted> RefuseLoan(Replica& replica, const LoanId& loan, const std::string& reason,
                                 std::string_view digest = {});

// Sends the animal from lender to borrower, or back.
absl::StatusOr<Acted> SendAnimal(Replica& replica, const LoanId& loan, const DaySpan& day);
absl::StatusOr<Acted> ReturnAnimal(Replica& replica, const LoanId& loan, const DaySpan& day);

absl::StatusOr<Acted> ReceiveAnimal(Replica& replica, const facts::Receipt& receipt);
absl::StatusOr<Acted> CloseLoan(Replica& replica, const facts::LoanClosure& closure);

}  // namespace broodpact::replica
