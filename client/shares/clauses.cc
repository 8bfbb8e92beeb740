// The terms as sentences, in the order in which they apply.

#include "client/shares/internal/clauses.h"

#include <algorithm>
#include <string_view>

#include <fmt/core.h>

#include "client/base/check.h"
#include "client/base/day.h"
#include "client/shares/phrase.h"
#include "client/shares/ratio.h"
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
    // In a form the name is the role.
    const facts::Party& party = terms.parties[i];
    parties.push_back(fmt::format("{}{}", names[i], party.keeper.empty() ? "" : role(party.role)));
  }
  return fmt::format("The parties are {}.", ListText(parties));
}

void AddCoverage(const facts::Coverage& coverage, const ClauseNames& names, Names& clauses) {
  if (coverage.sacs == 0) {
    clauses.emplace_back("Every sac is covered until the female moults.");
  } else {
    clauses.push_back(fmt::format(
        "{} of the pairing {} covered, later ones are not.",
        coverage.sacs == 1 ? "The first sac" : fmt::format("The first {} sacs", coverage.sacs),
        coverage.sacs == 1 ? "is" : "are"));
  }
  if (!names.females.empty()) {
    clauses.push_back(fmt::format("Only sacs of {} are covered.", ListText(names.females)));
  }
  if (coverage.until_day) {
    clauses.push_back(
        fmt::format("Sacs laid after {} are not covered.", ToText(*coverage.until_day)));
  }
}

void AddCounting(const facts::Counting& counting, const ClauseNames& names, Names& clauses) {
  if (counting.stage == 0) {
    clauses.emplace_back("What is shared is the count that is recorded.");
  } else {
    clauses.push_back(fmt::format("What is shared is the count after {} since the egg.",
                                  CountText(counting.stage, "moult")));
  }
  if (!names.counter.empty()) clauses.push_back(fmt::format("{} counts.", names.counter));
  if (!names.witness.empty()) {
    clauses.push_back(fmt::format("{} confirms the count before it is shared out.", names.witness));
  }
}

std::string ClaimClause(std::string_view when, const std::string& name, const PriorClaim& claim) {
  std::string text = fmt::format("{}, {} gets {}", when, name, AmountText(claim));
  if (claim.kind == ClaimKind::kBasisPoints) text += ", rounded down";
  if (claim.sacs_max != 0) text += fmt::format(", of {} only", FirstSacsText(claim.sacs_max));
  if (claim.slings_counted_min != 0) {
    text += fmt::format(", if at least {} were counted", SlingsText(claim.slings_counted_min));
  }
  return text + ".";
}

std::string SharersText(const std::vector<facts::RatioShare>& shares, const Names& names) {
  Names sharers;
  for (const facts::RatioShare& share : shares) sharers.push_back(names[share.party]);
  return ListText(sharers);
}

// How shares of more than one become whole slings.
std::string MethodClause(const Terms& terms) {
  if (RunningMethodOf(terms)) {
    return fmt::format(
        "What one clutch leaves over for a party is made up for by the next between the same "
        "parties at the same ratio ({}), so that nobody is ever a whole sling off his due; of "
        "equal claims the larger share comes first, then the lower keeper id.",
        CarryText(terms.apportioning.carry));
  }
  if (terms.apportioning.method == facts::Method::kLargestRemainder) {
    return "Slings left over go to the largest parts left over; of equal parts the larger share "
           "comes first, then the lower keeper id.";
  }
  return fmt::format(
      "Shares become whole slings by {}; of equal claims the larger share comes first, then the "
      "lower keeper id.",
      MethodText(terms.apportioning.method));
}

std::string ShareClause(const Terms& terms, const Names& names) {
  const std::string what = terms.prior_claims.empty() ? "The clutch" : "The rest";
  if (terms.shares.empty()) {
    return fmt::format("{} that no claim covers goes to {}, named first.", what, names.front());
  }
  if (terms.shares.size() == 1) {
    return fmt::format("{} goes to {}.", what, SharersText(terms.shares, names));
  }
  return fmt::format("{} is shared {} between {}. {}", what, RatioText(terms.shares),
                     SharersText(terms.shares, names), MethodClause(terms));
}

std::string LaterClause(const facts::LaterShares& later, const Names& names) {
  const std::string from = fmt::format("From a female's sac number {} on", later.first_sac);
  if (later.shares.size() == 1) {
    return fmt::format("{}, the rest goes to {}.", from, SharersText(later.shares, names));
  }
  return fmt::format("{}, the rest is shared {} between {}.", from, RatioText(later.shares),
                     SharersText(later.shares, names));
}

bool IsMaleOwner(const Terms& terms, const facts::RatioShare& share) {
  return terms.parties[share.party].role == facts::PartyRole::kMaleOwner;
}

void AddSireClause(const Terms& terms, Names& clauses) {
  const auto male_owners = std::ranges::count_if(
      terms.shares, [&](const facts::RatioShare& share) { return IsMaleOwner(terms, share); });
  if (male_owners == 0) return;
  switch (terms.apportioning.sires) {
    case facts::SireRule::kUnspecified:
      if (male_owners > 1) return;
      [[fallthrough]];
    case facts::SireRule::kEqual:
      clauses.emplace_back(
          "If several males may be the sire, the part of the male's owner is divided equally "
          "between the owners of those males.");
      return;
    case facts::SireRule::kAsWritten:
      clauses.emplace_back("The shares stay as they are, whichever male may be the sire.");
      return;
    case facts::SireRule::kLastPaired:
      clauses.emplace_back(
          "If several males may be the sire, the part of the male's owner goes to the owner of the "
          "one that was paired last.");
      return;
    case facts::SireRule::kPairings:
      clauses.emplace_back(
          "If several males may be the sire, the part of the male's owner is divided between the "
          "owners of those males by their pairings.");
      return;
  }
}

}  // namespace

std::vector<std::string> Clauses(const Terms& terms, const ClauseNames& names) {
  BP_CHECK(names.parties.size() == terms.parties.size());
  std::vector<std::string> clauses{PartyClause(terms, names.parties)};
  AddCoverage(terms.coverage, names, clauses);
  AddCounting(terms.counting, names, clauses);
  if (terms.small_clutch && terms.small_clutch->below > 0) {
    clauses.push_back(fmt::format("A clutch of fewer than {} goes whole to {}.",
                                  SlingsText(terms.small_clutch->below),
                                  names.parties[terms.small_clutch->party]));
  }
  for (std::size_t i = 0; i < terms.prior_claims.size(); ++i) {
    const PriorClaim& claim = terms.prior_claims[i];
    clauses.push_back(ClaimClause(i == 0 ? "First" : "Then", names.parties[claim.party], claim));
  }
  clauses.push_back(ShareClause(terms, names.parties));
  for (const facts::LaterShares& later : terms.later_shares) {
    clauses.push_back(LaterClause(later, names.parties));
  }
  AddSireClause(terms, clauses);
  internal::AddCareClauses(terms, names, clauses);
  if (!terms.remarks.empty()) clauses.push_back(fmt::format("Remarks: {}", terms.remarks));
  return clauses;
}

}  // namespace broodpact::shares
