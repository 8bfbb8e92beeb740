#pragma once

// Terms of a loan as they are written on a command line, and as values.
//
//   share   KEEPER=WEIGHT                       mira=2
//   claim   KEEPER=AMOUNT[..MAX][@COUNTED]      mira=10, mira=5%, mira=12.5%..50, mira=10@40
//   small   N=KEEPER                            8=mira
//   role    KEEPER=ROLE                         bela=raiser
//
// AMOUNT is a number of slings, or per cent of what is left with at most two decimals; ..MAX caps
// it at so many slings; @COUNTED makes it hold only if at least so many slings were counted.
//
// Parties are the lender, the borrower, and then whoever is named, in the order in which they are
// named first: claims, shares, small clutch, roles.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/terms.h"

namespace broodpact::cli {

// The options of terms, as text.
struct TermsOptions {
  std::vector<std::string> firsts{};
  std::vector<std::string> shares{};  // none: equal shares of lender and borrower
  std::string small_below{};
  std::vector<std::string> roles{};
  std::optional<std::uint32_t> counting_stage{};
  std::string losses{};  // each, holder, shared
  std::optional<std::uint32_t> sacs{};
  std::string male_risk{};  // lender, borrower
  std::string carriage{};   // sender, lender, borrower
  std::string remarks{};

  friend bool operator==(const TermsOptions&, const TermsOptions&) = default;
};

// Who the loan is between, and what that makes them where no role is said.
struct TermsParties {
  KeeperId lender{};
  KeeperId borrower{};
  facts::PartyRole lender_role = facts::PartyRole::kUnspecified;
  facts::PartyRole borrower_role = facts::PartyRole::kUnspecified;
};

// Finds a keeper by name.
using KeeperFinder = std::function<absl::StatusOr<KeeperId>(std::string_view name)>;

// Errors: INVALID_ARGUMENT with reason TERMS_SYNTAX (the message shows the form); those of
// `find_keeper`. Bounds are ParseAgreement's business.
absl::StatusOr<facts::Terms> ParseTerms(const TermsOptions& options, const TermsParties& parties,
                                        const KeeperFinder& find_keeper);

}  // namespace broodpact::cli
