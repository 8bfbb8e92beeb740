// Goal: turns are balanced as published, everybody gets as many picks as slings, and fewer picks
// are spread over the whole.
// Method: published sequences and their equal power sums, and laws.

#include "client/shares/picking.h"

#include <map>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"

namespace broodpact::shares {
namespace {

std::string Letters(const std::vector<std::uint32_t>& picks) {
  std::string letters;
  const auto order = PickingOrder(picks);
  for (const std::size_t party : *order) {
    letters += static_cast<char>('A' + static_cast<char>(party));
  }
  return letters;
}

// OEIS A010060 (Thue-Morse), from memory and by the parity of one bits.
TEST(PickingOrder, OfTwoIsThueMorse) {
  EXPECT_EQ(Letters({32, 32}), "ABBABAABBAABABBABAABABBAABBABAABBAABABBAABBABAABABBABAABBAABABBA");
}

// OEIS A053838 (sum of the base-3 digits, mod 3), from memory and by the digit sums.
TEST(PickingOrder, OfThreeIsItsGeneralisation) {
  EXPECT_EQ(Letters({27, 27, 27}),
            "ABCBCACABBCACABABCCABABCBCABCACABABCCABABCBCAABCBCACABCABABCBCAABCBCACABBCACABABC");
}

// Prouhet (1851): over 2^m picks the sums of the places, of their squares and so on up to the power
// m - 1 are the same for both.
TEST(PickingOrder, GivesTwoPartiesPlacesOfEqualPowerSums) {
  const std::vector<std::size_t> order = *PickingOrder(std::vector<std::uint32_t>{32, 32});
  for (std::uint32_t power = 0; power < 6; ++power) {
    std::map<std::size_t, std::uint64_t> sums;
    for (std::size_t i = 0; i < order.size(); ++i) {
      std::uint64_t term = 1;
      for (std::uint32_t n = 0; n < power; ++n) term *= i;
      sums[order[i]] += term;
    }
    EXPECT_EQ(sums[0], sums[1]) << "power " << power;
  }
}

TEST(PickingOrder, SpreadsFewPicksOverTheWhole) {
  EXPECT_EQ(Letters({5, 1}), "AABAAA") << "the middle one";
  EXPECT_EQ(Letters({0, 3}), "BBB");
  EXPECT_EQ(Letters({}), "");
}

TEST(PickingOrder, HasAnEnd) {
  EXPECT_EQ(ReasonOf(PickingOrder(std::vector<std::uint32_t>{kPicksMax, 1}).status()),
            "TOO_MANY_PICKS");
}

RC_GTEST_PROP(PickingOrder, GivesEverybodyItsSlings, ()) {
  const auto picks =
      *rc::gen::container<std::vector<std::uint32_t>>(rc::gen::inRange<std::uint32_t>(0, 40));
  std::vector<std::uint32_t> given(picks.size());
  const auto order = PickingOrder(picks);
  for (const std::size_t party : *order) ++given[party];
  RC_ASSERT(given == picks);
}

// After every whole round nobody is a pick off its even part.
RC_GTEST_PROP(PickingOrder, KeepsEverybodyNearItsEvenPart, ()) {
  const auto a = *rc::gen::inRange<std::uint32_t>(1, 40);
  const auto b = *rc::gen::inRange<std::uint32_t>(1, a + 1);
  std::uint64_t had = 0;
  std::uint64_t rounds = 0;
  const auto order = PickingOrder(std::vector<std::uint32_t>{a, b});
  for (const std::size_t party : *order) {
    (party == 0 ? rounds : had) += 1;
    RC_ASSERT(had * a <= (rounds + 1) * b + a);
    RC_ASSERT((had + 1) * a + b >= rounds * b);
  }
}

}  // namespace
}  // namespace broodpact::shares
