#pragma once

// Terms of a loan as they are written on a command line, and as values.
//
//   share   KEEPER=WEIGHT                             mira=2
//   later   SAC:KEEPER=WEIGHT                         2:mira=3, from her second sac on
//   claim   KEEPER=AMOUNT[..MAX][@COUNTED][#SACS]     mira=10, mira=5%, mira=12.5%..50, mira=10@40
//   small   N=KEEPER                                  8=mira
//   role    KEEPER=ROLE                               bela=raiser
//
// AMOUNT is a number of slings, or per cent of what is left with at most two decimals, MIN.. before
// it being the least that it comes to (10..5%); ..MAX caps it at so many slings; @COUNTED makes it
// hold only if at least so many slings were counted, #SACS only of the first so many sacs.
//
// Parties are the lender, the borrower, and then whoever is named, in the order in which they are
// named first: claims, shares, later shares, small clutch, roles. In a form, roles stand for
// keepers.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/day.h"
#include "client/facts/terms.h"

namespace broodpact::cli {

// Who gets how many slings.
struct SlingOptions {
  std::vector<std::string> firsts{};
  std::vector<std::string> shares{};  // none: equal shares of lender and borrower
  std::vector<std::string> later_shares{};
  std::string small_below{};
  std::vector<std::string> roles{};
  std::string method{};  // largest-remainder, sainte-lague, dhondt, adams, huntington-hill
  std::string carry{};   // off, quota, chairman
  std::string sires{};   // as-written, equal, last, pairings

  friend bool operator==(const SlingOptions&, const SlingOptions&) = default;
};

// Which sacs, and how they are counted.
struct SacOptions {
  std::vector<std::string> females{};
  std::optional<std::uint32_t> sacs{};
  std::string until{};
  std::optional<std::uint32_t> counting_stage{};
  std::string counter{};
  std::string witness{};
  std::string no_sac{};     // nothing, repeat, next-sac
  std::string infertile{};  // nothing, repeat, next-sac
  std::optional<std::uint32_t> no_sac_days{};

  friend bool operator==(const SacOptions&, const SacOptions&) = default;
};

// How animals and slings are looked after.
struct CareOptions {
  std::string losses{};     // each, holder, shared
  std::string male_risk{};  // lender, borrower
  std::string risk_on_way{};
  std::string risk_eaten{};
  std::string risk_natural{};
  std::string death_owes{};  // animal, remarks, or a number of slings
  std::optional<std::uint32_t> pairings{};
  std::string lending_on{};  // no, ask, yes
  std::string carriage{};    // sender, receiver, lender, borrower
  std::string carriage_out{};
  std::string carriage_back{};
  std::string carriage_slings{};
  std::optional<std::uint32_t> dead_report{};
  std::optional<std::uint32_t> dead_replace{};
  std::string arbiter{};
  std::string remarks{};

  friend bool operator==(const CareOptions&, const CareOptions&) = default;
};

// The options of terms, as text.
struct TermsOptions {
  SlingOptions slings{};
  SacOptions sac{};
  CareOptions care{};

  friend bool operator==(const TermsOptions&, const TermsOptions&) = default;
};

// Who the loan is between, and what that makes them where no role is said.
struct TermsParties {
  KeeperId lender{};
  KeeperId borrower{};
  facts::PartyRole lender_role = facts::PartyRole::kUnspecified;
  facts::PartyRole borrower_role = facts::PartyRole::kUnspecified;
};

// Finds what is named.
struct TermsLookup {
  std::function<absl::StatusOr<KeeperId>(std::string_view name)> keeper{};
  std::function<absl::StatusOr<AnimalId>(std::string_view name)> female{};
  std::function<absl::StatusOr<Day>(std::string_view text)> day{};
};

// The terms of a loan: those of `form` where it is given, but for what the options say.
// Errors: INVALID_ARGUMENT with reason TERMS_SYNTAX (the message shows the form), FORM_ROLE_MISSING
// (nobody has a role that the form needs); those of `lookup`. Bounds are ParseAgreement's business.
absl::StatusOr<facts::Terms> ParseTerms(const TermsOptions& options, const TermsParties& parties,
                                        const TermsLookup& lookup,
                                        const facts::Terms* form = nullptr);

// The terms of a form: what names a party names its role.
// Errors: as ParseTerms. Bounds are ParseFormTerms' business.
absl::StatusOr<facts::Terms> ParseFormOptions(const TermsOptions& options,
                                              const TermsLookup& lookup);

// The words of `method` and `carry`; nothing for an empty one. The grammar admits no others.
std::optional<facts::Method> MethodOf(std::string_view word);
std::optional<facts::Carry> CarryOf(std::string_view word);

// The word for a role: "male-owner".
std::string_view RoleWordOf(facts::PartyRole role);

}  // namespace broodpact::cli
