#include "cli/terms/terms.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "cli/terms/clause_words.h"
#include "cli/terms/syntax.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

using facts::Party;
using facts::PartyRole;
using facts::Terms;

// Who a name on the command line is as a party: a keeper, or in a form a role.
using PartyFinder = std::function<absl::StatusOr<Party>(std::string_view name)>;

bool SameParty(const Party& a, const Party& b) {
  return a.keeper.empty() ? a.role == b.role : a.keeper == b.keeper;
}

// The terms while they are put together: names become parties.
class TermsBuilder {
 public:
  TermsBuilder(Terms start, PartyFinder find) : terms(std::move(start)), find_(std::move(find)) {}

  // The party of that name, as an index; a new one if there was none.
  absl::StatusOr<std::uint32_t> PartyNamed(std::string_view name) {
    BP_ASSIGN_OR_RETURN(const Party party, find_(name));
    for (std::uint32_t i = 0; i < terms.parties.size(); ++i) {
      if (SameParty(terms.parties[i], party)) return i;
    }
    terms.parties.push_back(party);
    return static_cast<std::uint32_t>(terms.parties.size() - 1);
  }

  absl::Status AddClaim(const std::string& text) {
    const std::optional<Sides> sides = SidesOf(text);
    if (!sides) return SyntaxError(text, "first claim", kClaimForm);
    std::optional<facts::PriorClaim> claim = ParseClaim(sides->second);
    if (!claim) return SyntaxError(text, "first claim", kClaimForm);
    BP_ASSIGN_OR_RETURN(claim->party, PartyNamed(sides->first));
    terms.prior_claims.push_back(*claim);
    return absl::OkStatus();
  }

  absl::StatusOr<facts::RatioShare> ShareOf(std::string_view text, std::string_view form) {
    const std::optional<Sides> sides = SidesOf(text);
    const std::optional<std::uint32_t> weight = sides ? WholeNumber(sides->second) : std::nullopt;
    if (!sides || !weight || *weight == 0) return SyntaxError(text, "share", form);
    BP_ASSIGN_OR_RETURN(const std::uint32_t party, PartyNamed(sides->first));
    return facts::RatioShare{.party = party, .weight = *weight};
  }

  absl::Status AddShare(const std::string& text) {
    BP_ASSIGN_OR_RETURN(const facts::RatioShare share, ShareOf(text, kShareForm));
    terms.shares.push_back(share);
    return absl::OkStatus();
  }

  absl::Status AddLaterShare(const std::string& text) {
    const std::size_t colon = text.find(':');
    const std::optional<std::uint32_t> sac = WholeNumber(std::string_view(text).substr(0, colon));
    if (colon == std::string::npos || !sac) {
      return SyntaxError(text, "share of later sacs", kLaterForm);
    }
    BP_ASSIGN_OR_RETURN(const facts::RatioShare share,
                        ShareOf(std::string_view(text).substr(colon + 1), kLaterForm));
    auto& later = terms.later_shares;
    auto place = std::ranges::lower_bound(later, *sac, {}, &facts::LaterShares::first_sac);
    if (place == later.end() || place->first_sac != *sac) {
      place = later.insert(place, {.first_sac = *sac, .shares = {}});
    }
    place->shares.push_back(share);
    return absl::OkStatus();
  }

  absl::Status SetSmallClutch(const std::string& text) {
    const std::size_t sign = text.find('=');
    const std::optional<std::uint32_t> below = WholeNumber(std::string_view(text).substr(0, sign));
    if (!below || *below == 0 || sign == std::string::npos || sign + 1 == text.size()) {
      return SyntaxError(text, "rule for a small clutch", kSmallForm);
    }
    BP_ASSIGN_OR_RETURN(const std::uint32_t party, PartyNamed(text.substr(sign + 1)));
    terms.small_clutch = facts::SmallClutchRule{.below = *below, .party = party};
    return absl::OkStatus();
  }

  absl::Status SetRole(const std::string& text) {
    const std::optional<Sides> sides = SidesOf(text);
    const std::optional<PartyRole> role = sides ? ParseRole(sides->second) : std::nullopt;
    if (!sides || !role) return SyntaxError(text, "role", kRoleForm);
    BP_ASSIGN_OR_RETURN(const std::uint32_t party, PartyNamed(sides->first));
    terms.parties[party].role = *role;
    return absl::OkStatus();
  }

  // What is said of slings takes the place of what the start had of the same.
  absl::Status SetSlings(const SlingOptions& options) {
    if (!options.firsts.empty()) terms.prior_claims.clear();
    if (!options.shares.empty()) terms.shares.clear();
    if (!options.later_shares.empty()) terms.later_shares.clear();
    for (const std::string& text : options.firsts) BP_RETURN_IF_ERROR(AddClaim(text));
    for (const std::string& text : options.shares) BP_RETURN_IF_ERROR(AddShare(text));
    for (const std::string& text : options.later_shares) BP_RETURN_IF_ERROR(AddLaterShare(text));
    if (options.small_below.empty()) return absl::OkStatus();
    return SetSmallClutch(options.small_below);
  }

  Terms terms;

 private:
  PartyFinder find_;
};

// Puts the parties of a loan in the place of a form's roles.
class FormFiller {
 public:
  FormFiller(const Terms& form, const Terms& start) : terms_(form) {
    terms_.parties = start.parties;
    for (const Party& role : form.parties) places_.push_back(PlaceOf(role.role));
  }

  absl::StatusOr<Terms> Fill(const Terms& form) && {
    for (std::size_t i = 0; i < places_.size(); ++i) {
      if (places_[i] < terms_.parties.size()) continue;
      return Fail(absl::StatusCode::kInvalidArgument, "FORM_ROLE_MISSING",
                  fmt::format("the saved terms need a {}; say --role KEEPER={}",
                              RoleWordOf(form.parties[i].role), RoleWordOf(form.parties[i].role)));
    }
    if (terms_.small_clutch) Move(terms_.small_clutch->party);
    for (facts::PriorClaim& claim : terms_.prior_claims) Move(claim.party);
    for (facts::RatioShare& share : terms_.shares) Move(share.party);
    for (facts::LaterShares& later : terms_.later_shares) {
      for (facts::RatioShare& share : later.shares) Move(share.party);
    }
    return std::move(terms_);
  }

 private:
  std::uint32_t PlaceOf(PartyRole role) const {
    const auto found = std::ranges::find(terms_.parties, role, &Party::role);
    return static_cast<std::uint32_t>(found - terms_.parties.begin());
  }
  void Move(std::uint32_t& party) const { party = places_[party]; }

  Terms terms_;
  std::vector<std::uint32_t> places_;  // of the form's parties among those of the loan
};

}  // namespace

absl::StatusOr<Terms> ParseTerms(const TermsOptions& options, const TermsParties& parties,
                                 const TermsLookup& lookup, const Terms* form) {
  const PartyFinder find = [&](std::string_view name) -> absl::StatusOr<Party> {
    BP_ASSIGN_OR_RETURN(const KeeperId keeper, lookup.keeper(name));
    return Party{.keeper = keeper};
  };
  Terms start;
  start.parties = {{.keeper = parties.lender, .role = parties.lender_role},
                   {.keeper = parties.borrower, .role = parties.borrower_role}};
  TermsBuilder builder(std::move(start), find);
  if (form != nullptr) {
    // A form's roles have to be filled before its clauses can name anybody.
    for (const std::string& text : options.slings.roles) BP_RETURN_IF_ERROR(builder.SetRole(text));
    BP_ASSIGN_OR_RETURN(builder.terms, FormFiller(*form, builder.terms).Fill(*form));
  }
  BP_RETURN_IF_ERROR(builder.SetSlings(options.slings));
  for (const std::string& text : options.slings.roles) BP_RETURN_IF_ERROR(builder.SetRole(text));
  if (options.slings.shares.empty() && form == nullptr) {
    builder.terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
  }
  BP_RETURN_IF_ERROR(SetClauses(options, lookup, builder.terms));
  return std::move(builder.terms);
}

absl::StatusOr<Terms> ParseFormOptions(const TermsOptions& options, const TermsLookup& lookup) {
  const PartyFinder find = [](std::string_view name) -> absl::StatusOr<Party> {
    const std::optional<PartyRole> role = ParseRole(name);
    if (role) return Party{.keeper = {}, .role = *role};
    return SyntaxError(name, "role",
                       "male-owner, female-owner, raiser, cooperative or earlier-lender, which "
                       "stand for keepers in saved terms");
  };
  Terms start;
  start.parties = {{.keeper = {}, .role = PartyRole::kMaleOwner},
                   {.keeper = {}, .role = PartyRole::kFemaleOwner}};
  TermsBuilder builder(std::move(start), find);
  BP_RETURN_IF_ERROR(builder.SetSlings(options.slings));
  if (options.slings.shares.empty()) {
    builder.terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
  }
  BP_RETURN_IF_ERROR(SetClauses(options, lookup, builder.terms));
  return std::move(builder.terms);
}

}  // namespace broodpact::cli
