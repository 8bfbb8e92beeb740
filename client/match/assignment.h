#pragma once

// Which male to which female so that the sum of what the pairs are worth is as large as it can be.
//
// Method: minimum cost flow by the primal network simplex (Kiraly & Kovacs, "Efficient
// implementations of minimum-cost flow algorithms", Acta Univ. Sapientiae Inf. 4 (2012) 67-118), in
// the kept library LEMON. Worths are whole numbers, so the answer is exact.
//
// Pure.

#include <cstddef>
#include <cstdint>
#include <vector>

namespace broodpact::match {

// Bounds that keep every sum of the solver inside 64 bits, and its arcs in memory.
inline constexpr std::size_t kMarketMax = 2'000;          // males, and females
inline constexpr std::int64_t kPairWorthMax = 1'000'000;  // of a pair
inline constexpr std::uint32_t kPairBurdenMax = 2'048;
inline constexpr std::uint32_t kCapacityMax = 16;

// A pair that must not be.
inline constexpr std::int64_t kForbidden = -1;

// What there is to choose from. Tables have a row for each male and a column for each female.
struct Market {
  std::vector<std::uint32_t> male_capacities{};    // pairs at most, 0 .. kCapacityMax each
  std::vector<std::uint32_t> female_capacities{};  // the same
  std::vector<std::int64_t>
      worths{};  // 0 .. kPairWorthMax, or kForbidden; a pair of worth 0 is never made
  // What decides between choices of equal worth: the lower sum, 0 .. kPairBurdenMax each. Empty:
  // nothing does.
  std::vector<std::uint32_t> burdens{};
};

struct Pair {
  std::uint32_t male = 0;  // as numbered in the market
  std::uint32_t female = 0;

  friend auto operator<=>(const Pair&, const Pair&) = default;
};

// The pairs of a best choice, in order of male and female; nobody is in more than the capacity, and
// no two animals are paired twice. Of choices of equal worth and equal burden always the same one
// for a market, but which one depends on how the animals are numbered: number them by a rule.
std::vector<Pair> BestPairs(const Market& market);

}  // namespace broodpact::match
