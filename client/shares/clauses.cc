// The terms as sentences, in the order in which they apply.

#include <string_view>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/shares/phrase.h"
#include "client/shares/split.h"

namespace broodpact::shares {
namespace {

using facts::ClaimKind;
using facts::PriorClaim;
using facts::Terms;
using Names = std::vector<std::string>;

std::string PartyClause(const Terms& terms, const Names& names) {
  const auto role = [](facts::PartyRole party_role) -> std::string_view {
    switch (party_role) {
      case facts::PartyRole::kUnspecified:
        return "";
      case facts::PartyRole::kMaleOwner:
        return " (owner of the male)";
      case facts::PartyRole::kFemaleOwner:
        return " (owner of the female)";
      case facts::PartyRole::kRaiser:
        return " (keeps the sac and the slings)";
      case facts::PartyRole::kCooperative:
        return " (for the cooperative)";
      case facts::PartyRole::kEarlierLender:
        return " (an earlier lender)";
    }
    return "";
  };
  Names parties;
  for (std::size_t i = 0; i < terms.parties.size(); ++i) {
    parties.push_back(fmt::format("{}{}", names[i], role(terms.parties[i].role)));
  }
  return fmt::format("The parties are {}.", ListText(parties));
}

std::string SacsClause(std::uint32_t sacs_covered) {
  if (sacs_covered == 0) return "Every sac is covered until the female moults.";
  if (sacs_covered == 1) return "The first sac of the pairing is covered, later ones are not.";
  return fmt::format("The first {} sacs of the pairing are covered, later ones are not.",
                     sacs_covered);
}

std::string CountingClause(std::uint32_t counting_stage) {
  if (counting_stage == 0) return "What is shared is the count that is recorded.";
  return fmt::format("What is shared is the count after {} {} since the egg.", counting_stage,
                     counting_stage == 1 ? "moult" : "moults");
}

std::string ClaimClause(std::string_view when, const std::string& name, const PriorClaim& claim) {
  std::string text = fmt::format("{}, {} gets {}", when, name, AmountText(claim));
  if (claim.kind == ClaimKind::kBasisPoints) text += ", rounded down";
  if (claim.slings_counted_min != 0) {
    text += fmt::format(", if at least {} were counted", SlingsText(claim.slings_counted_min));
  }
  return text + ".";
}

std::string ShareClause(const Terms& terms, const Names& names) {
  const std::string what = terms.prior_claims.empty() ? "The clutch" : "The rest";
  if (terms.shares.empty()) {
    return fmt::format("{} that no claim covers goes to {}, named first.", what, names.front());
  }
  Names sharers;
  for (const facts::RatioShare& share : terms.shares) sharers.push_back(names[share.party]);
  if (sharers.size() == 1) return fmt::format("{} goes to {}.", what, sharers.front());
  return fmt::format(
      "{} is shared {} between {}. Slings left over go to the largest parts left over; of equal "
      "parts the larger share comes first, then the lower keeper id.",
      what, RatioText(terms), ListText(sharers));
}

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

std::string_view MaleClause(facts::MaleRisk risk) {
  switch (risk) {
    case facts::MaleRisk::kUnspecified:
    case facts::MaleRisk::kLender:
      return "Nothing is owed for a male that dies on loan; he may be eaten.";
    case facts::MaleRisk::kBorrower:
      return "The borrower answers for a male that dies on loan.";
  }
  return "";
}

std::string_view CarriageClause(facts::CarriagePayer payer) {
  switch (payer) {
    case facts::CarriagePayer::kUnspecified:
    case facts::CarriagePayer::kSender:
      return "Whoever sends pays the carriage.";
    case facts::CarriagePayer::kLender:
      return "The lender pays the carriage, both ways.";
    case facts::CarriagePayer::kBorrower:
      return "The borrower pays the carriage, both ways.";
  }
  return "";
}

}  // namespace

std::vector<std::string> Clauses(const Terms& terms, const Names& names) {
  BP_CHECK(names.size() == terms.parties.size());
  std::vector<std::string> clauses{PartyClause(terms, names), SacsClause(terms.sacs_covered),
                                   CountingClause(terms.counting_stage)};
  if (terms.small_clutch && terms.small_clutch->below > 0) {
    clauses.push_back(fmt::format("A clutch of fewer than {} goes whole to {}.",
                                  SlingsText(terms.small_clutch->below),
                                  names[terms.small_clutch->party]));
  }
  for (std::size_t i = 0; i < terms.prior_claims.size(); ++i) {
    const PriorClaim& claim = terms.prior_claims[i];
    clauses.push_back(ClaimClause(i == 0 ? "First" : "Then", names[claim.party], claim));
  }
  clauses.push_back(ShareClause(terms, names));
  clauses.emplace_back(LossClause(terms.loss_bearer));
  clauses.emplace_back(MaleClause(terms.male_risk));
  clauses.emplace_back(CarriageClause(terms.carriage_payer));
  if (!terms.remarks.empty()) clauses.push_back(fmt::format("Remarks: {}", terms.remarks));
  return clauses;
}

}  // namespace broodpact::shares
