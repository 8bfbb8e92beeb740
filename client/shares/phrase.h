#pragma once

// How numbers, lists and claims are written in the sentences of a split: exact, in plain ASCII,
// the same in every locale.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "client/facts/terms.h"

namespace broodpact::shares {

// "1 sling", "2 slings".
std::string SlingsText(std::uint64_t slings);

// `scaled` / 10^`digits` as an exact decimal without trailing zeros: (750, 2) is "7.5". `digits` is
// 1 .. 18.
std::string DecimalText(std::uint64_t scaled, int digits);

// Hundredths of a per cent: 750 is "7.5 %".
std::string PercentText(std::uint32_t basis_points);

// "a", "a and b", "a, b and c".
std::string ListText(const std::vector<std::string>& items);

// Shares in their order: "2 : 1 : 1".
std::string RatioText(const std::vector<facts::RatioShare>& shares);

// What a prior claim comes to before anyone looks at what is there: "10 slings", or
// "7.5 % of what is left, at least 5 slings, at most 20 slings".
std::string AmountText(const facts::PriorClaim& claim);

// "the first sac", "the first 2 sacs".
std::string FirstSacsText(std::uint32_t sacs);

// "1 moult", "2 moults": `noun` as for one thing.
std::string CountText(std::uint32_t count, std::string_view noun);

// "D'Hondt's method".
std::string_view MethodText(facts::Method method);

// "quota method of Balinski and Young"; nothing where nothing carries over.
std::string_view CarryText(facts::Carry carry);

}  // namespace broodpact::shares
