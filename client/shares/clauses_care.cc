// The clauses on how animals and slings are looked after, as sentences.

#include <string_view>

#include <fmt/core.h>

#include "client/shares/internal/clauses.h"
#include "client/shares/phrase.h"

namespace broodpact::shares::internal {
namespace {

using facts::CarriagePayer;
using facts::FailureRule;
using facts::MaleRisk;
using facts::Terms;
using Clauses = std::vector<std::string>;

std::string_view LossClause(facts::LossBearer bearer) {
  switch (bearer) {
    case facts::LossBearer::kUnspecified:
    case facts::LossBearer::kEachOwn:
      return "Slings lost between count and handover are the loss of the party whose lot they are.";
    case facts::LossBearer::kHolder:
      return "Slings lost between count and handover are the loss of the keeper who has them.";
    case facts::LossBearer::kShared:
      return "Slings lost between count and handover are the loss of all parties, by their shares.";
  }
  return "";
}

std::string_view MaleClause(MaleRisk risk) {
  switch (risk) {
    case MaleRisk::kUnspecified:
    case MaleRisk::kLender:
      return "Nothing is owed for a male that dies on loan; he may be eaten.";
    case MaleRisk::kBorrower:
      return "The borrower answers for a male that dies on loan.";
  }
  return "";
}

// A way of dying for which something else is said.
void AddRisk(std::string_view how, MaleRisk risk, Clauses& clauses) {
  switch (risk) {
    case MaleRisk::kUnspecified:
      return;
    case MaleRisk::kLender:
      clauses.push_back(fmt::format("If it {}, nothing is owed for it.", how));
      return;
    case MaleRisk::kBorrower:
      clauses.push_back(fmt::format("If it {}, the borrower answers for it.", how));
      return;
  }
}

void AddYield(const facts::RiskClause& risk, Clauses& clauses) {
  switch (risk.yield) {
    case facts::RiskYield::kUnspecified:
      return;
    case facts::RiskYield::kAnimal:
      clauses.emplace_back(
          "For a death that he answers for the borrower owes another male of the group.");
      return;
    case facts::RiskYield::kSlings:
      clauses.push_back(fmt::format(
          "For a death that he answers for the borrower owes {} of his part of the next clutch.",
          SlingsText(risk.yield_slings)));
      return;
    case facts::RiskYield::kRemarks:
      clauses.emplace_back(
          "For a death that he answers for the borrower owes what the remarks say.");
      return;
  }
}

void AddReturn(const facts::ReturnClause& clause, Clauses& clauses) {
  if (clause.pairings_max != 0) {
    clauses.push_back(fmt::format("It goes back after {}, if not before.",
                                  CountText(clause.pairings_max, "pairing")));
  }
  switch (clause.lending_on) {
    case facts::LendingOn::kUnspecified:
      return;
    case facts::LendingOn::kForbidden:
      clauses.emplace_back("The borrower does not lend it on.");
      return;
    case facts::LendingOn::kConsent:
      clauses.emplace_back("The borrower lends it on only with the lender's consent each time.");
      return;
    case facts::LendingOn::kAllowed:
      clauses.emplace_back("The borrower may lend it on to any keeper of the cooperative.");
      return;
  }
}

std::string_view CarriageClause(CarriagePayer payer) {
  switch (payer) {
    case CarriagePayer::kUnspecified:
    case CarriagePayer::kSender:
      return "Whoever sends pays the carriage.";
    case CarriagePayer::kLender:
      return "The lender pays the carriage, both ways.";
    case CarriagePayer::kBorrower:
      return "The borrower pays the carriage, both ways.";
    case CarriagePayer::kReceiver:
      return "Whoever receives pays the carriage.";
  }
  return "";
}

// A way for which something else is said.
void AddWay(std::string_view what, CarriagePayer payer, Clauses& clauses) {
  const auto who = [payer]() -> std::string_view {
    switch (payer) {
      case CarriagePayer::kUnspecified:
        return "";
      case CarriagePayer::kSender:
        return "Whoever sends";
      case CarriagePayer::kLender:
        return "The lender";
      case CarriagePayer::kBorrower:
        return "The borrower";
      case CarriagePayer::kReceiver:
        return "Whoever receives";
    }
    return "";
  }();
  if (!who.empty()) clauses.push_back(fmt::format("{} pays {}.", who, what));
}

void AddDeadArrivals(const facts::DeadArrivals& dead, Clauses& clauses) {
  if (dead.report_hours != 0) {
    clauses.push_back(fmt::format("Slings that arrive dead are reported within {}.",
                                  CountText(dead.report_hours, "hour")));
  }
  if (dead.replace_days != 0) {
    clauses.push_back(
        fmt::format("Slings that arrive dead are replaced out of the sender's own within {}.",
                    CountText(dead.replace_days, "day")));
  }
}

std::string_view FailureText(FailureRule rule) {
  switch (rule) {
    case FailureRule::kUnspecified:
      return "";
    case FailureRule::kNothing:
      return "nothing is owed";
    case FailureRule::kRepeat:
      return "the animal comes again, or another that the lender has of the group";
    case FailureRule::kNextSac:
      return "the female's next sac takes its place, whatever its sire";
  }
  return "";
}

void AddFailure(const facts::FailureClause& failure, Clauses& clauses) {
  if (failure.no_sac != FailureRule::kUnspecified) {
    const std::string when =
        failure.no_sac_days == 0
            ? "before the female moults"
            : fmt::format("within {} of the last pairing", CountText(failure.no_sac_days, "day"));
    clauses.push_back(fmt::format("If no sac comes {}, {}.", when, FailureText(failure.no_sac)));
  }
  if (failure.infertile_sac != FailureRule::kUnspecified) {
    clauses.push_back(
        fmt::format("If a sac comes to nothing, {}.", FailureText(failure.infertile_sac)));
  }
}

}  // namespace

void AddCareClauses(const Terms& terms, const ClauseNames& names, Clauses& clauses) {
  clauses.emplace_back(LossClause(terms.loss_bearer));
  clauses.emplace_back(MaleClause(terms.risk.bearer));
  AddRisk("dies on the way", terms.risk.in_transit, clauses);
  AddRisk("is eaten by the female", terms.risk.eaten, clauses);
  AddRisk("dies of age or illness", terms.risk.natural, clauses);
  AddYield(terms.risk, clauses);
  AddReturn(terms.giving_back, clauses);
  clauses.emplace_back(CarriageClause(terms.carriage.payer));
  AddWay("its way to the borrower", terms.carriage.out, clauses);
  AddWay("its way back", terms.carriage.back, clauses);
  AddWay("the slings' way to the parties", terms.carriage.slings, clauses);
  AddDeadArrivals(terms.dead_arrivals, clauses);
  AddFailure(terms.failure, clauses);
  if (!names.arbiter.empty()) {
    clauses.push_back(fmt::format("Where the parties disagree, {} decides.", names.arbiter));
  }
}

}  // namespace broodpact::shares::internal
