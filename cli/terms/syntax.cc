#include "cli/terms/syntax.h"

#include <charconv>

#include <fmt/format.h>

#include "cli/terms/terms.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

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

// "[MIN..]p%" without the sign.
bool TakePart(std::string_view text, facts::PriorClaim& claim) {
  claim.kind = facts::ClaimKind::kBasisPoints;
  const std::size_t dots = text.find("..");
  if (dots != std::string_view::npos) {
    const std::optional<std::uint32_t> least = WholeNumber(text.substr(0, dots));
    if (!least || *least == 0) return false;
    claim.slings_min = *least;
    text = text.substr(dots + 2);
  }
  claim.amount = Hundredths(text).value_or(0);
  return claim.amount != 0;
}

}  // namespace

absl::Status SyntaxError(std::string_view text, std::string_view what, std::string_view form) {
  return Fail(absl::StatusCode::kInvalidArgument, "TERMS_SYNTAX",
              fmt::format("'{}' is no {}; write {}", text, what, form));
}

std::optional<std::uint32_t> WholeNumber(std::string_view text) {
  std::uint32_t number = 0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, number);
  if (text.empty() || stop != end || error != std::errc()) return std::nullopt;
  return number;
}

std::optional<Sides> SidesOf(std::string_view text) {
  const std::size_t sign = text.rfind('=');
  if (sign == std::string_view::npos || sign == 0 || sign + 1 == text.size()) return std::nullopt;
  return Sides{text.substr(0, sign), text.substr(sign + 1)};
}

std::optional<facts::PriorClaim> ParseClaim(std::string_view text) {
  facts::PriorClaim claim;
  if (!TakeNumberBehind(text, "#", claim.sacs_max)) return std::nullopt;
  if (!TakeNumberBehind(text, "@", claim.slings_counted_min)) return std::nullopt;
  // A cap stands behind the amount; what stands before a part is its floor.
  if (!text.ends_with('%') && !TakeNumberBehind(text, "..", claim.slings_max)) return std::nullopt;
  if (text.ends_with('%')) {
    if (!TakePart(text.substr(0, text.size() - 1), claim)) return std::nullopt;
    return claim;
  }
  claim.kind = facts::ClaimKind::kSlings;
  claim.amount = WholeNumber(text).value_or(0);
  if (claim.amount == 0) return std::nullopt;
  return claim;
}

std::optional<facts::PartyRole> ParseRole(std::string_view word) {
  for (const facts::PartyRole role :
       {facts::PartyRole::kMaleOwner, facts::PartyRole::kFemaleOwner, facts::PartyRole::kRaiser,
        facts::PartyRole::kCooperative, facts::PartyRole::kEarlierLender}) {
    if (word == RoleWordOf(role)) return role;
  }
  return std::nullopt;
}

std::string_view RoleWordOf(facts::PartyRole role) {
  switch (role) {
    case facts::PartyRole::kUnspecified:
      return "";
    case facts::PartyRole::kMaleOwner:
      return "male-owner";
    case facts::PartyRole::kFemaleOwner:
      return "female-owner";
    case facts::PartyRole::kRaiser:
      return "raiser";
    case facts::PartyRole::kCooperative:
      return "cooperative";
    case facts::PartyRole::kEarlierLender:
      return "earlier-lender";
  }
  return "";
}

}  // namespace broodpact::cli
