#include "cli/terms/terms.h"

#include <charconv>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact::cli {
namespace {

absl::Status SyntaxError(std::string_view text, std::string_view what, std::string_view form) {
  return Fail(absl::StatusCode::kInvalidArgument, "TERMS_SYNTAX",
              fmt::format("'{}' is no {}; write {}", text, what, form));
}

constexpr std::string_view kShareForm = "KEEPER=WEIGHT, as in mira=2";
constexpr std::string_view kClaimForm =
    "KEEPER=AMOUNT[..MAX][@COUNTED], as in mira=10, mira=5%, mira=5%..50 or mira=10@40";
constexpr std::string_view kSmallForm = "N=KEEPER, as in 8=mira";
constexpr std::string_view kRoleForm =
    "KEEPER=ROLE, with a role of male-owner, female-owner, raiser, cooperative, earlier-lender";

std::optional<std::uint32_t> WholeNumber(std::string_view text) {
  std::uint32_t number = 0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, number);
  if (text.empty() || stop != end || error != std::errc()) return std::nullopt;
  return number;
}

// Per cent with at most two decimals, in hundredths: "12.5" is 1,250.
std::optional<std::uint32_t> Hundredths(std::string_view text) {
  const std::size_t point = text.find('.');
  const std::optional<std::uint32_t> whole = WholeNumber(text.substr(0, point));
  if (!whole || *whole > 100) return std::nullopt;
  if (point == std::string_view::npos) return *whole * 100;
  const std::string_view decimals = text.substr(point + 1);
  const std::optional<std::uint32_t> part = WholeNumber(decimals);
  if (!part || decimals.size() > 2) return std::nullopt;
  return *whole * 100 + (decimals.size() == 1 ? *part * 10 : *part);
}

using Pair = std::pair<std::string_view, std::string_view>;

// The two sides of the last "="; nothing if one of them is empty.
std::optional<Pair> SidesOf(std::string_view text) {
  const std::size_t sign = text.rfind('=');
  if (sign == std::string_view::npos || sign == 0 || sign + 1 == text.size()) return std::nullopt;
  return Pair{text.substr(0, sign), text.substr(sign + 1)};
}

// Takes what stands behind the last `mark` off `text`; nothing is left in `rest` if no mark is
// there. False if what stands there is no number above zero.
bool TakeNumberBehind(std::string_view& text, std::string_view mark, std::uint32_t& number) {
  const std::size_t at = text.rfind(mark);
  if (at == std::string_view::npos) return true;
  const std::optional<std::uint32_t> read = WholeNumber(text.substr(at + mark.size()));
  if (!read || *read == 0) return false;
  number = *read;
  text = text.substr(0, at);
  return true;
}

// The claim without its party.
std::optional<facts::PriorClaim> ParseClaim(std::string_view text) {
  facts::PriorClaim claim;
  if (!TakeNumberBehind(text, "@", claim.slings_counted_min)) return std::nullopt;
  if (!TakeNumberBehind(text, "..", claim.slings_max)) return std::nullopt;
  std::optional<std::uint32_t> amount;
  if (text.ends_with('%')) {
    claim.kind = facts::ClaimKind::kBasisPoints;
    amount = Hundredths(text.substr(0, text.size() - 1));
  } else {
    claim.kind = facts::ClaimKind::kSlings;
    amount = WholeNumber(text);
  }
  if (!amount || *amount == 0) return std::nullopt;
  claim.amount = *amount;
  return claim;
}

std::optional<facts::PartyRole> ParseRole(std::string_view word) {
  if (word == "male-owner") return facts::PartyRole::kMaleOwner;
  if (word == "female-owner") return facts::PartyRole::kFemaleOwner;
  if (word == "raiser") return facts::PartyRole::kRaiser;
  if (word == "cooperative") return facts::PartyRole::kCooperative;
  if (word == "earlier-lender") return facts::PartyRole::kEarlierLender;
  return std::nullopt;
}

// The terms while they are put together: names become parties.
class TermsBuilder {
 public:
  TermsBuilder(const TermsParties& parties, const KeeperFinder& find_keeper)
      : find_keeper_(find_keeper) {
    terms.parties = {{.keeper = parties.lender, .role = parties.lender_role},
                     {.keeper = parties.borrower, .role = parties.borrower_role}};
  }

  // The party of that name, as an index; a new one if there was none.
  absl::StatusOr<std::uint32_t> PartyNamed(std::string_view name) {
    BP_ASSIGN_OR_RETURN(const KeeperId keeper, find_keeper_(name));
    for (std::uint32_t i = 0; i < terms.parties.size(); ++i) {
      if (terms.parties[i].keeper == keeper) return i;
    }
    terms.parties.push_back({.keeper = keeper, .role = facts::PartyRole::kUnspecified});
    return static_cast<std::uint32_t>(terms.parties.size() - 1);
  }

  absl::Status AddClaim(const std::string& text) {
    const std::optional<Pair> sides = SidesOf(text);
    if (!sides) return SyntaxError(text, "first claim", kClaimForm);
    std::optional<facts::PriorClaim> claim = ParseClaim(sides->second);
    if (!claim) return SyntaxError(text, "first claim", kClaimForm);
    BP_ASSIGN_OR_RETURN(claim->party, PartyNamed(sides->first));
    terms.prior_claims.push_back(*claim);
    return absl::OkStatus();
  }

  absl::Status AddShare(const std::string& text) {
    const std::optional<Pair> sides = SidesOf(text);
    const std::optional<std::uint32_t> weight = sides ? WholeNumber(sides->second) : std::nullopt;
    if (!weight || *weight == 0) return SyntaxError(text, "share", kShareForm);
    BP_ASSIGN_OR_RETURN(const std::uint32_t party, PartyNamed(sides->first));
    terms.shares.push_back({.party = party, .weight = *weight});
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
    const std::optional<Pair> sides = SidesOf(text);
    const std::optional<facts::PartyRole> role = sides ? ParseRole(sides->second) : std::nullopt;
    if (!role) return SyntaxError(text, "role", kRoleForm);
    BP_ASSIGN_OR_RETURN(const std::uint32_t party, PartyNamed(sides->first));
    terms.parties[party].role = *role;
    return absl::OkStatus();
  }

  facts::Terms terms;

 private:
  const KeeperFinder& find_keeper_;
};

// The clauses that one word says. The words are those of the options' choices.
void SetWords(const TermsOptions& options, facts::Terms& terms) {
  if (options.losses == "each") terms.loss_bearer = facts::LossBearer::kEachOwn;
  if (options.losses == "holder") terms.loss_bearer = facts::LossBearer::kHolder;
  if (options.losses == "shared") terms.loss_bearer = facts::LossBearer::kShared;
  if (options.male_risk == "lender") terms.male_risk = facts::MaleRisk::kLender;
  if (options.male_risk == "borrower") terms.male_risk = facts::MaleRisk::kBorrower;
  if (options.carriage == "sender") terms.carriage_payer = facts::CarriagePayer::kSender;
  if (options.carriage == "lender") terms.carriage_payer = facts::CarriagePayer::kLender;
  if (options.carriage == "borrower") terms.carriage_payer = facts::CarriagePayer::kBorrower;
  terms.counting_stage = options.counting_stage.value_or(0);
  terms.sacs_covered = options.sacs.value_or(0);
  terms.remarks = options.remarks;
}

}  // namespace

absl::StatusOr<facts::Terms> ParseTerms(const TermsOptions& options, const TermsParties& parties,
                                        const KeeperFinder& find_keeper) {
  TermsBuilder builder(parties, find_keeper);
  for (const std::string& text : options.firsts) BP_RETURN_IF_ERROR(builder.AddClaim(text));
  for (const std::string& text : options.shares) BP_RETURN_IF_ERROR(builder.AddShare(text));
  if (!options.small_below.empty()) {
    BP_RETURN_IF_ERROR(builder.SetSmallClutch(options.small_below));
  }
  for (const std::string& text : options.roles) BP_RETURN_IF_ERROR(builder.SetRole(text));
  if (options.shares.empty()) {
    builder.terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
  }
  SetWords(options, builder.terms);
  return std::move(builder.terms);
}

}  // namespace broodpact::cli
