#pragma once

// Who picks when, where slings differ in size: balanced alternation.
//
// Strict turns (ABAB...) favour who begins, in every round. Balanced alternation turns the order
// round by round: for two parties ABBA BAAB ..., the Thue-Morse sequence, by which neither gains
// from going first (Brams & Taylor, The Win-Win Solution, 1999); for k parties round r begins with
// party s(r) mod k, s being the sum of the digits of r in base k (the base-k Thue-Morse sequence).
//
// Where parties get different numbers of slings there are as many rounds as the largest number,
// and a party with fewer picks in rounds spread evenly over them, so that it gets neither the large
// nor the small ones only.
//
// Pure, and whole-number arithmetic throughout.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"

namespace broodpact::shares {

// Far more slings than anybody picks one by one.
inline constexpr std::uint32_t kPicksMax = 100'000;

// The parties in the order in which they pick: party i picks picks[i] times. Parties without a
// pick have no place in the turns.
//
// Errors: INVALID_ARGUMENT with reason TOO_MANY_PICKS.
absl::StatusOr<std::vector<std::size_t>> PickingOrder(std::span<const std::uint32_t> picks);

}  // namespace broodpact::shares
