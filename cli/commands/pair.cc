// broodpact pair.

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/clutch.h"
#include "cli/commands/words.h"
#include "cli/day_order.h"
#include "client/replica/acts_clutch.h"

namespace broodpact::cli {
namespace {

// The loan that a pairing happens under: as said, else the male's loan in force.
absl::StatusOr<LoanId> LoanOfPairing(const replica::Replica& replica, const PairOptions& options,
                                     const AnimalId& male) {
  if (options.no_loan) return LoanId();
  if (!options.loan.empty()) return ViewOf(replica).LoanNamed(options.loan);
  BP_ASSIGN_OR_RETURN(const registry::Animal animal,
                      replica::Known<registry::Animal>(replica, male, "animal"));
  return animal.loan;
}

std::string OutcomeText(const std::string& outcome) {
  if (outcome == "seen") return ", insertion seen";
  if (outcome == "refused") return ", refused";
  if (outcome == "eaten") return ", and he was eaten";
  return "";
}

}  // namespace

absl::Status RunPair(const Desk& desk, const PairOptions& options) {
  if (options.no_loan && !options.loan.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "USAGE",
                "--loan and --no-loan contradict each other; say one of them");
  }
  BP_ASSIGN_OR_RETURN(const DaySpan day, DayOf(desk, "--on", options.on));
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const AnimalId male, view.AnimalNamed(options.male));
  BP_ASSIGN_OR_RETURN(const AnimalId female, view.AnimalNamed(options.female));
  BP_ASSIGN_OR_RETURN(const LoanId loan, LoanOfPairing(*replica, options, male));
  BP_ASSIGN_OR_RETURN(const replica::Made<PairingId> made,
                      replica::RecordPairing(*replica, {.pairing = {},
                                                        .male = male,
                                                        .female = female,
                                                        .day = day,
                                                        .outcome = OutcomeOf(options.outcome),
                                                        .loan = loan,
                                                        .hybrid_intended = options.hybrid}));
  BP_ASSIGN_OR_RETURN(const auto paired,
                      replica::Known<registry::Animal>(*replica, male, "animal"));
  NoteOrder(desk, "mature", paired.maturity, "paired", day);
  std::string under;
  if (!loan.empty()) {
    BP_ASSIGN_OR_RETURN(const v1::Loan known, ViewOf(*replica).Loan(loan));
    under = fmt::format(" under loan {}", known.name());
  }
  return ReportAct(
      desk, *replica, made.acted,
      {.message = fmt::format("{} was put to {} on {}{}{}.", options.male, options.female,
                              ToText(day), OutcomeText(options.outcome), under),
       .subject = RefOf(made.id, "")});
}

}  // namespace broodpact::cli
