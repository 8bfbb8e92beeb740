#include "cli/terms/clause_words.h"

#include "cli/terms/syntax.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

using facts::CarriagePayer;
using facts::FailureRule;
using facts::MaleRisk;

// Sets what a word says. The grammar admits no other words; an empty one says nothing.
void Set(std::string_view word, MaleRisk& risk) {
  if (word == "lender") risk = MaleRisk::kLender;
  if (word == "borrower") risk = MaleRisk::kBorrower;
}

void Set(std::string_view word, CarriagePayer& payer) {
  if (word == "sender") payer = CarriagePayer::kSender;
  if (word == "receiver") payer = CarriagePayer::kReceiver;
  if (word == "lender") payer = CarriagePayer::kLender;
  if (word == "borrower") payer = CarriagePayer::kBorrower;
}

void Set(std::string_view word, FailureRule& rule) {
  if (word == "nothing") rule = FailureRule::kNothing;
  if (word == "repeat") rule = FailureRule::kRepeat;
  if (word == "next-sac") rule = FailureRule::kNextSac;
}

void Set(std::string_view word, facts::LossBearer& bearer) {
  if (word == "each") bearer = facts::LossBearer::kEachOwn;
  if (word == "holder") bearer = facts::LossBearer::kHolder;
  if (word == "shared") bearer = facts::LossBearer::kShared;
}

void Set(std::string_view word, facts::LendingOn& lending_on) {
  if (word == "no") lending_on = facts::LendingOn::kForbidden;
  if (word == "ask") lending_on = facts::LendingOn::kConsent;
  if (word == "yes") lending_on = facts::LendingOn::kAllowed;
}

void Set(std::string_view word, facts::SireRule& rule) {
  if (word == "as-written") rule = facts::SireRule::kAsWritten;
  if (word == "equal") rule = facts::SireRule::kEqual;
  if (word == "last") rule = facts::SireRule::kLastPaired;
  if (word == "pairings") rule = facts::SireRule::kPairings;
}

void Set(const std::optional<std::uint32_t>& number, std::uint32_t& value) {
  value = number.value_or(value);
}

absl::Status SetYield(std::string_view text, facts::RiskClause& risk) {
  if (text.empty()) return absl::OkStatus();
  risk.yield_slings = 0;
  if (text == "animal") {
    risk.yield = facts::RiskYield::kAnimal;
  } else if (text == "remarks") {
    risk.yield = facts::RiskYield::kRemarks;
  } else {
    const std::optional<std::uint32_t> slings = WholeNumber(text);
    if (!slings || *slings == 0) {
      return SyntaxError(text, "debt for a death", "animal, remarks, or a number of slings");
    }
    risk.yield = facts::RiskYield::kSlings;
    risk.yield_slings = *slings;
  }
  return absl::OkStatus();
}

absl::Status SetKeeper(const std::string& name, const TermsLookup& lookup, KeeperId& keeper) {
  if (name.empty()) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(keeper, lookup.keeper(name));
  return absl::OkStatus();
}

absl::Status SetSacClauses(const SacOptions& options, const TermsLookup& lookup,
                           facts::Terms& terms) {
  if (!options.females.empty()) terms.coverage.females.clear();
  for (const std::string& name : options.females) {
    BP_ASSIGN_OR_RETURN(terms.coverage.females.emplace_back(), lookup.female(name));
  }
  Set(options.sacs, terms.coverage.sacs);
  if (!options.until.empty()) {
    BP_ASSIGN_OR_RETURN(terms.coverage.until_day, lookup.day(options.until));
  }
  Set(options.counting_stage, terms.counting.stage);
  BP_RETURN_IF_ERROR(SetKeeper(options.counter, lookup, terms.counting.counter));
  BP_RETURN_IF_ERROR(SetKeeper(options.witness, lookup, terms.counting.witness));
  Set(options.no_sac, terms.failure.no_sac);
  Set(options.infertile, terms.failure.infertile_sac);
  Set(options.no_sac_days, terms.failure.no_sac_days);
  return absl::OkStatus();
}

absl::Status SetCareClauses(const CareOptions& options, const TermsLookup& lookup,
                            facts::Terms& terms) {
  Set(options.losses, terms.loss_bearer);
  Set(options.male_risk, terms.risk.bearer);
  Set(options.risk_on_way, terms.risk.in_transit);
  Set(options.risk_eaten, terms.risk.eaten);
  Set(options.risk_natural, terms.risk.natural);
  BP_RETURN_IF_ERROR(SetYield(options.death_owes, terms.risk));
  Set(options.pairings, terms.giving_back.pairings_max);
  Set(options.lending_on, terms.giving_back.lending_on);
  Set(options.carriage, terms.carriage.payer);
  Set(options.carriage_out, terms.carriage.out);
  Set(options.carriage_back, terms.carriage.back);
  Set(options.carriage_slings, terms.carriage.slings);
  Set(options.dead_report, terms.dead_arrivals.report_hours);
  Set(options.dead_replace, terms.dead_arrivals.replace_days);
  BP_RETURN_IF_ERROR(SetKeeper(options.arbiter, lookup, terms.arbiter));
  if (!options.remarks.empty()) terms.remarks = options.remarks;
  return absl::OkStatus();
}

}  // namespace

std::optional<facts::Method> MethodOf(std::string_view word) {
  if (word == "largest-remainder") return facts::Method::kLargestRemainder;
  if (word == "sainte-lague") return facts::Method::kSainteLague;
  if (word == "dhondt") return facts::Method::kDHondt;
  if (word == "adams") return facts::Method::kAdams;
  if (word == "huntington-hill") return facts::Method::kHuntingtonHill;
  return std::nullopt;
}

std::optional<facts::Carry> CarryOf(std::string_view word) {
  if (word == "off") return facts::Carry::kOff;
  if (word == "quota") return facts::Carry::kQuota;
  if (word == "chairman") return facts::Carry::kChairman;
  return std::nullopt;
}

absl::Status SetClauses(const TermsOptions& options, const TermsLookup& lookup,
                        facts::Terms& terms) {
  facts::Apportioning& apportioning = terms.apportioning;
  apportioning.method = MethodOf(options.slings.method).value_or(apportioning.method);
  apportioning.carry = CarryOf(options.slings.carry).value_or(apportioning.carry);
  Set(options.slings.sires, apportioning.sires);
  BP_RETURN_IF_ERROR(SetSacClauses(options.sac, lookup, terms));
  return SetCareClauses(options.care, lookup, terms);
}

}  // namespace broodpact::cli
