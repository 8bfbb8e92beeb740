// Goal: numbers in sentences are exact and read naturally. Method: examples at each edge.

#include "client/shares/phrase.h"

#include <gtest/gtest.h>

#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

TEST(Phrase, PrintsHundredthsOfAPerCentExactly) {
  EXPECT_EQ(PercentText(750), "7.5 %");
  EXPECT_EQ(PercentText(700), "7 %");
  EXPECT_EQ(PercentText(725), "7.25 %");
  EXPECT_EQ(PercentText(5), "0.05 %");
  EXPECT_EQ(PercentText(1'000), "10 %");
  EXPECT_EQ(PercentText(10'000), "100 %");
}

TEST(Phrase, PrintsDecimalsWithoutTrailingZerosAndKeepsThoseBeforeThePoint) {
  EXPECT_EQ(DecimalText(132'750, 4), "13.275");
  EXPECT_EQ(DecimalText(100'000, 4), "10");
  EXPECT_EQ(DecimalText(1, 4), "0.0001");
  EXPECT_EQ(DecimalText(0, 4), "0");
  EXPECT_EQ(DecimalText(10'000'000'000, 4), "1000000");
}

TEST(Phrase, CountsOneSlingInTheSingular) {
  EXPECT_EQ(SlingsText(0), "0 slings");
  EXPECT_EQ(SlingsText(1), "1 sling");
  EXPECT_EQ(SlingsText(2), "2 slings");
}

TEST(Phrase, ListsWithCommasAndAnAnd) {
  EXPECT_EQ(ListText({}), "");
  EXPECT_EQ(ListText({"mira"}), "mira");
  EXPECT_EQ(ListText({"mira", "tomas"}), "mira and tomas");
  EXPECT_EQ(ListText({"mira", "tomas", "bela"}), "mira, tomas and bela");
}

TEST(Phrase, WritesARatioInTheOrderOfTheTerms) {
  EXPECT_EQ(RatioText(SharedBy({2, 1, 10}).shares), "2 : 1 : 10");
  EXPECT_EQ(RatioText(SharedBy({5}).shares), "5");
}

TEST(Phrase, WritesWhatAClaimComesTo) {
  EXPECT_EQ(AmountText(FirstSlings(0, 1)), "1 sling");
  facts::PriorClaim claim = PartOfRest(0, 750);
  EXPECT_EQ(AmountText(claim), "7.5 % of what is left");
  claim.slings_max = 20;
  EXPECT_EQ(AmountText(claim), "7.5 % of what is left, at most 20 slings");
}

}  // namespace
}  // namespace broodpact::shares
