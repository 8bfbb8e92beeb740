// Goal: two keepers can follow a split on paper. Method: whole workings, compared line by line with
// what a person would write.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/shares/split.h"
#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

using ::testing::ElementsAre;

std::vector<std::string> Working(const facts::Terms& terms, std::uint32_t counted,
                                 const std::vector<std::string>& names) {
  std::vector<std::string> lines;
  const auto split = SplitOf(terms, counted);
  if (!split.ok()) return lines;
  for (const Step& step : split->working) lines.push_back(Sentence(step, terms, names));
  return lines;
}

TEST(Working, OfAClaimAndThreeSharesCanBeFollowedOnPaper) {
  facts::Terms terms = SharedBy({2, 1, 1});
  terms.prior_claims = {FirstSlings(2, 10)};
  EXPECT_THAT(
      Working(terms, 187, {"mira", "tomas", "bela"}),
      ElementsAre(
          "187 slings were counted.", "bela has a prior claim to 10 slings. 187 - 10 = 177 left.",
          "The rest, 177 slings, is shared 2 : 1 : 1. mira: 177 x 2/4 = 88 and 2/4 left "
          "over.",
          "tomas: 177 x 1/4 = 44 and 1/4 left over.", "bela: 177 x 1/4 = 44 and 1/4 left over.",
          "1 sling left over: it goes to the largest part still waiting, 2/4: mira."));
}

TEST(Working, OfAPercentageAndThreeSharesCanBeFollowedOnPaper) {
  facts::Terms terms = SharedBy({50, 30, 20});
  terms.prior_claims = {PartOfRest(1, 963), FirstSlings(2, 4)};
  terms.prior_claims[1].slings_counted_min = 200;
  EXPECT_THAT(
      Working(terms, 187, {"mira", "tomas", "bela"}),
      ElementsAre("187 slings were counted.",
                  "tomas has a prior claim to 9.63 % of what is left: 187 x 9.63 % = 18.0081, so "
                  "18. 187 - 18 = 169 left.",
                  "bela has a prior claim only if at least 200 slings were counted: fewer were, so "
                  "it does not apply.",
                  "The rest, 169 slings, is shared 50 : 30 : 20. mira: 169 x 50/100 = 84 and "
                  "50/100 left over.",
                  "tomas: 169 x 30/100 = 50 and 70/100 left over.",
                  "bela: 169 x 20/100 = 33 and 80/100 left over.",
                  "2 slings left over: one goes to the largest part still waiting, 80/100: bela.",
                  "1 sling left over: it goes to the largest part still waiting, 70/100: tomas."));
}

// Four ways with a tie for the last sling: 187 living, 40/40/10/10.
TEST(Working, OfATieSaysWhichRuleSettlesIt) {
  EXPECT_THAT(
      Working(SharedBy({40, 40, 10, 10}), 187, {"mira", "tomas", "bela", "iva"}),
      ElementsAre("187 slings were counted.",
                  "All 187 slings are shared 40 : 40 : 10 : 10. mira: 187 x 40/100 = 74 and "
                  "80/100 left over.",
                  "tomas: 187 x 40/100 = 74 and 80/100 left over.",
                  "bela: 187 x 10/100 = 18 and 70/100 left over.",
                  "iva: 187 x 10/100 = 18 and 70/100 left over.",
                  "3 slings left over: one goes to the largest part still waiting, 80/100: mira.",
                  "2 slings left over: one goes to the largest part still waiting, 80/100: tomas.",
                  "1 sling left over: it goes to the largest part still waiting, 70/100: bela. Of "
                  "equal parts and equal shares, the lower keeper id comes first."));
}

TEST(Working, OfATieBetweenUnequalSharesNamesTheLargerShare) {
  EXPECT_THAT(
      Working(SharedBy({1, 3}), 2, {"mira", "tomas"}),
      ElementsAre("2 slings were counted.",
                  "All 2 slings are shared 1 : 3. mira: 2 x 1/4 = 0 and 2/4 left over.",
                  "tomas: 2 x 3/4 = 1 and 2/4 left over.",
                  "1 sling left over: it goes to the largest part still waiting, 2/4: tomas. Of "
                  "equal parts, the larger share comes first."));
}

TEST(Working, OfASmallClutchHasOneGift) {
  facts::Terms terms = SharedBy({1, 1});
  terms.small_clutch = {.below = 20, .party = 1};
  EXPECT_THAT(Working(terms, 1, {"mira", "tomas"}),
              ElementsAre("1 sling was counted.",
                          "A clutch of fewer than 20 slings goes whole to one party: tomas gets 1 "
                          "sling."));
}

TEST(Working, OfClaimsThatTakeEverythingSaysWhatIsLeft) {
  facts::Terms terms = SharedBy({1, 1, 1});
  terms.prior_claims = {PartOfRest(0, 7'500), FirstSlings(1, 10), FirstSlings(2, 3)};
  terms.prior_claims[0].slings_max = 20;
  EXPECT_THAT(
      Working(terms, 28, {"mira", "tomas", "bela"}),
      ElementsAre("28 slings were counted.",
                  "mira has a prior claim to 75 % of what is left, at most 20 slings: 28 x 75 % = "
                  "21, so 20. 28 - 20 = 8 left.",
                  "tomas has a prior claim to 10 slings, but only 8 are left. 8 - 8 = 0 left.",
                  "bela has a prior claim to 3 slings, but none are left."));
}

TEST(Working, OfACappedNumberOfSlingsDoesNotBlameTheClutch) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(0, 10)};
  terms.prior_claims[0].slings_max = 8;
  EXPECT_EQ(Working(terms, 28, {"mira", "tomas"})[1],
            "mira has a prior claim to 10 slings, at most 8 slings. 28 - 8 = 20 left.");
}

TEST(Working, OfARestWithoutSharesNamesWhoGetsIt) {
  facts::Terms terms = SharedBy({1, 1});
  terms.shares.clear();
  terms.prior_claims = {PartOfRest(1, 5'000)};
  EXPECT_THAT(
      Working(terms, 8, {"mira", "tomas"}),
      ElementsAre("8 slings were counted.",
                  "tomas has a prior claim to 50 % of what is left: 8 x 50 % = 4. 8 - 4 = 4 "
                  "left.",
                  "No share covers the rest: mira, named first, gets 4 slings."));
}

TEST(Working, OfARestForOnePartyIsNotCalledARatio) {
  facts::Terms terms = SharedBy({3});
  terms.parties.push_back({.keeper = Keeper(2)});
  EXPECT_THAT(
      Working(terms, 8, {"mira", "tomas"}),
      ElementsAre("8 slings were counted.", "All 8 slings are for one party. mira: 8 x 3/3 = 8."));
}

TEST(Working, OfNothingSaysSo) {
  EXPECT_THAT(Working(SharedBy({1, 1}), 0, {"mira", "tomas"}),
              ElementsAre("No slings were counted: there is nothing to share."));
}

// A sentence that names nobody, or is empty, would leave a keeper without the line.
RC_GTEST_PROP(Working, NamesItsPartyInEveryLineAfterTheCount, ()) {
  const auto terms = *AnyTerms();
  const auto split = SplitOf(terms, *AnyCount(), *AnyOccasion());
  RC_ASSERT(split.ok());
  std::vector<std::string> names;
  for (std::size_t i = 0; i < split->keepers.size(); ++i) {
    names.push_back("keeper-" + std::to_string(i) + "-");
  }
  for (const Step& step : split->working) {
    const std::string sentence = Sentence(step, terms, names);
    RC_ASSERT(sentence.back() == '.');
    if (step.kind == StepKind::kCounted || step.kind == StepKind::kCarried) continue;
    RC_ASSERT(sentence.find(names[step.party]) != std::string::npos);
  }
}

}  // namespace
}  // namespace broodpact::shares
