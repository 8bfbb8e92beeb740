#include "cli/commands/loan.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/care.h"
#include "cli/commands/terms_help.h"
#include "cli/commands/words.h"
#include "cli/show/show.h"
#include "client/replica/acts_loan.h"

namespace broodpact::cli {
namespace {

constexpr char kTravelCaution[] =
    "Before it travels: rules on transport differ by place; ask your authority, pack for the "
    "weather.";
constexpr char kUnpackCaution[] =
    "Unpack with care: hairs irritate, so protect your eyes; for a bite seek medical help.";

// A loan that a command is about, with the replica that it is in.
struct LoanAtHand {
  std::unique_ptr<replica::Replica> replica;
  LoanId id;
};

absl::StatusOr<LoanAtHand> LoanAtHandNamed(const Desk& desk, const std::string& name) {
  BP_ASSIGN_OR_RETURN(auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const LoanId id, ViewOf(*replica).LoanNamed(name));
  return LoanAtHand{.replica = std::move(replica), .id = id};
}

// The loan as it is after the act.
absl::StatusOr<v1::Loan> LoanOf(const LoanAtHand& subject) {
  return ViewOf(*subject.replica).Loan(subject.id);
}

absl::Status Report(const Desk& desk, const LoanAtHand& subject, replica::Acted acted,
                    const v1::Loan& loan, std::string message) {
  // Whatever it was: a loan that is in force, or an animal under way, opens an address.
  message += OpenAddressesAfter(*subject.replica, acted);
  return ReportAct(desk, *subject.replica, acted,
                   {.message = std::move(message), .subject = RefOf(subject.id, loan.name())});
}

using Findings = google::protobuf::RepeatedPtrField<v1::Remark>;

// What is remarkable about what a signature would be under: the amendment that is open, by the
// beginning of its digest, else the loan's own terms.
const Findings& FindingsOf(const v1::Loan& loan, const std::string& digest) {
  for (const v1::LoanVersion& version : loan.versions()) {
    if (version.state() != "open" || !version.agreement_digest().starts_with(digest)) continue;
    return version.findings();
  }
  return loan.findings();
}

std::string UnsignedText(const v1::Loan& loan) {
  std::string names;
  for (const v1::LoanSigner& signer : loan.signers()) {
    if (!signer.signature_time().empty()) continue;
    names += (names.empty() ? "" : " and ") + signer.keeper().name();
  }
  return names;
}

}  // namespace

absl::Status RunAcceptLoan(const Desk& desk, const AcceptLoanOptions& options) {
  BP_ASSIGN_OR_RETURN(const LoanAtHand subject, LoanAtHandNamed(desk, options.loan));
  BP_ASSIGN_OR_RETURN(const v1::Loan before, LoanOf(subject));
  const Findings& findings = FindingsOf(before, options.version);
  PrintFindings(desk.terminal, findings);
  if (!options.as_is) BP_RETURN_IF_ERROR(CheckFindings(findings));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      SignLoan(*subject.replica, subject.id, options.version));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, LoanOf(subject));
  if (before.state() == "in force" || before.state() == "closed") {
    const bool all = loan.agreement_digest() != before.agreement_digest();
    return Report(
        desk, subject, acted, loan,
        all ? fmt::format("Signed: the amended terms of loan {} are in force.", loan.name())
            : fmt::format("Signed: the amendment of loan {} waits for other signatures.",
                          loan.name()));
  }
  const std::string state =
      loan.state() == "in force"
          ? fmt::format("{} is promised to {}.", loan.animal().name(), loan.borrower().name())
          : fmt::format("Waiting for {} to sign.", UnsignedText(loan));
  return Report(desk, subject, acted, loan,
                fmt::format("Signed: loan {} is {}. {}", loan.name(), loan.state(), state));
}

absl::Status RunDeclineLoan(const Desk& desk, const DeclineLoanOptions& options) {
  BP_ASSIGN_OR_RETURN(const LoanAtHand subject, LoanAtHandNamed(desk, options.loan));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      RefuseLoan(*subject.replica, subject.id, options.reason, options.version));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, LoanOf(subject));
  if (loan.state() != "declined") {
    return Report(
        desk, subject, acted, loan,
        fmt::format("The amendment of loan {} is declined; it goes on as it was.", loan.name()));
  }
  return Report(desk, subject, acted, loan,
                fmt::format("Loan {} is declined; {} is not promised by it.", loan.name(),
                            loan.animal().name()));
}

absl::Status RunSendAnimal(const Desk& desk, const SendAnimalOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LoanAtHand subject, LoanAtHandNamed(desk, options.loan));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, SendAnimal(*subject.replica, subject.id, day));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, LoanOf(subject));
  Caution(desk.terminal, kTravelCaution);
  return Report(desk, subject, acted, loan,
                fmt::format("{} is on its way to {} since {}; yours to answer for until {} "
                            "receives it.",
                            loan.animal().name(), loan.borrower().name(), ToText(day),
                            loan.borrower().name()));
}

absl::Status RunReturnAnimal(const Desk& desk, const ReturnAnimalOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LoanAtHand subject, LoanAtHandNamed(desk, options.loan));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, ReturnAnimal(*subject.replica, subject.id, day));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, LoanOf(subject));
  Caution(desk.terminal, kTravelCaution);
  return Report(desk, subject, acted, loan,
                fmt::format("{} is on its way back to {} since {}.", loan.animal().name(),
                            loan.lender().name(), ToText(day)));
}

absl::Status RunReceiveAnimal(const Desk& desk, const ReceiveAnimalOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LoanAtHand subject, LoanAtHandNamed(desk, options.loan));
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      ReceiveAnimal(
          *subject.replica,
          {.loan = subject.id, .day = day, .condition = ArrivalConditionOf(options.arrived)}));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, LoanOf(subject));
  if (!loan.receipt_day().empty() && loan.receipt_day() != ToText(day)) {
    const std::string death = options.arrived == "dead" ? ", but for its death" : "";
    return Report(desk, subject, acted, loan,
                  fmt::format("{} is with {} since {}: that entry stands, and {} is not taken{}.",
                              loan.animal().name(), loan.holder().name(), loan.receipt_day(),
                              ToText(day), death));
  }
  Caution(desk.terminal, kUnpackCaution);
  const std::string condition =
      options.arrived.empty() ? "" : fmt::format(", and arrived {}", options.arrived);
  return Report(desk, subject, acted, loan,
                fmt::format("{} is with {} since {}{}.", loan.animal().name(), loan.holder().name(),
                            ToText(day), condition));
}

absl::Status RunCloseLoan(const Desk& desk, const CloseLoanOptions& options) {
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const LoanAtHand subject, LoanAtHandNamed(desk, options.loan));
  BP_ASSIGN_OR_RETURN(
      const replica::Acted acted,
      CloseLoan(*subject.replica, {.loan = subject.id, .day = day, .reason = options.reason}));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, LoanOf(subject));
  return Report(desk, subject, acted, loan,
                fmt::format("Loan {} is closed since {}; its terms still share out what was laid "
                            "under it.",
                            loan.name(), ToText(day)));
}

absl::Status RunListLoans(const Desk& desk, const ListLoansOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const v1::LoanList list,
                      options.all ? view.Loans() : view.LoansOf(view.self()));
  return Present(desk, list);
}

absl::Status RunShowLoan(const Desk& desk, const ShowLoanOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const LoanId id, view.LoanNamed(options.loan));
  BP_ASSIGN_OR_RETURN(const v1::Loan loan, view.Loan(id));
  if (desk.terminal.format != Format::kJson) PrintFindings(desk.terminal, loan.findings());
  return Present(desk, loan);
}

}  // namespace broodpact::cli
