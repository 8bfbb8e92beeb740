#pragma once

// The parts of terms as text: numbers, claims, roles.

#include <cstdint>
#include <optional>
#include <string_view>
#include <utility>

#include "absl/status/status.h"

#include "client/facts/terms.h"

namespace broodpact::cli {

inline constexpr std::string_view kShareForm = "KEEPER=WEIGHT, as in mira=2";
inline constexpr std::string_view kLaterForm = "SAC:KEEPER=WEIGHT, as in 2:mira=3";
inline constexpr std::string_view kClaimForm =
    "KEEPER=AMOUNT[..MAX][@COUNTED][#SACS], as in mira=10, mira=5%, mira=10..5%..50, mira=10@40 or "
    "mira=10#1";
inline constexpr std::string_view kSmallForm = "N=KEEPER, as in 8=mira";
inline constexpr std::string_view kRoleForm =
    "KEEPER=ROLE, with a role of male-owner, female-owner, raiser, cooperative, earlier-lender";

// INVALID_ARGUMENT with reason TERMS_SYNTAX: `text` is no `what`; write `form`.
absl::Status SyntaxError(std::string_view text, std::string_view what, std::string_view form);

// A whole number below 2^32, in digits alone; nothing where `text` is none.
std::optional<std::uint32_t> WholeNumber(std::string_view text);

// The two sides of the last "="; nothing if one of them is empty.
using Sides = std::pair<std::string_view, std::string_view>;
std::optional<Sides> SidesOf(std::string_view text);

// A claim without its party: what stands behind the "=".
std::optional<facts::PriorClaim> ParseClaim(std::string_view text);

std::optional<facts::PartyRole> ParseRole(std::string_view word);

}  // namespace broodpact::cli
