// Goal: a split goes by the method, the carry, the sac and the possible sires that the terms and
// the occasion say, with a working that fits on paper. Method: laws against the methods themselves,
// and whole workings compared with what a person would write.

#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/shares/method.h"
#include "client/shares/ratio.h"
#include "client/shares/running.h"
#include "client/shares/split.h"
#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

using ::testing::ElementsAre;

using Slings = std::vector<std::uint32_t>;

Slings SlingsBy(const facts::Terms& terms, std::uint32_t counted, const Occasion& occasion = {}) {
  const auto split = SplitOf(terms, counted, occasion);
  return split.ok() ? split->slings : Slings{};
}

std::vector<std::string> Working(const facts::Terms& terms, std::uint32_t counted,
                                 const Occasion& occasion = {}) {
  std::vector<std::string> lines;
  const auto split = SplitOf(terms, counted, occasion);
  if (!split.ok()) return lines;
  for (const Step& step : split->working) {
    lines.push_back(Sentence(step, terms, {"mira", "tomas", "bela", "iva"}));
  }
  return lines;
}

facts::Terms By(facts::Method method, facts::Terms terms) {
  terms.apportioning.method = method;
  return terms;
}

facts::Terms QuotaCarried(facts::Terms terms) {
  terms.apportioning.carry = facts::Carry::kQuota;
  return terms;
}

// tomas owns the male, mira the female: 1 : 1.
facts::Terms OfMale(facts::SireRule rule = facts::SireRule::kUnspecified) {
  facts::Terms terms = SharedBy({1, 1});
  terms.parties[0].role = facts::PartyRole::kFemaleOwner;
  terms.parties[1].role = facts::PartyRole::kMaleOwner;
  terms.apportioning.sires = rule;
  return terms;
}

RC_GTEST_PROP(SplitMethod, GivesTheRestByTheMethodOfTheTerms, ()) {
  facts::Terms terms = *AnyRatioTerms();
  terms.apportioning.method = (*AnyApportioning()).method;
  const auto counted = *AnyCount();
  const auto shared = ShareBy(terms.apportioning.method, counted, ClaimantsOf(terms, 1));
  RC_ASSERT(shared.ok());
  RC_ASSERT(SlingsBy(terms, counted) == *shared);
}

// The margin proves the rest: no sling that was given is worth less than one that was not.
RC_GTEST_PROP(SplitMethod, NamesTheLastSlingGivenAndTheNextOne, ()) {
  facts::Terms terms = *AnyRatioTerms();
  terms.apportioning.method =
      *rc::gen::element(facts::Method::kSainteLague, facts::Method::kDHondt, facts::Method::kAdams,
                        facts::Method::kHuntingtonHill);
  const auto counted = *AnyCount();
  RC_PRE(counted > 0 && terms.shares.size() > 1);
  const std::vector<Claimant> claimants = ClaimantsOf(terms, 1);
  const auto before = ShareBy(terms.apportioning.method, counted - 1, claimants);
  const auto given = ShareBy(terms.apportioning.method, counted, claimants);
  const auto after = ShareBy(terms.apportioning.method, counted + 1, claimants);
  RC_ASSERT(before.ok() && given.ok() && after.ok());
  const Margin margin = MarginOf(terms.apportioning.method, *given, claimants);
  RC_ASSERT((*given)[margin.last] == (*before)[margin.last] + 1);
  RC_ASSERT((*after)[margin.next] == (*given)[margin.next] + 1);
}

RC_GTEST_PROP(SplitMethod, GivesTheDifferenceOfTwoTotalsWhereRemaindersCarryOver, ()) {
  facts::Terms terms = *AnyRatioTerms();
  RC_PRE(IsCoarse(terms) && terms.shares.size() > 1);
  terms.apportioning.carry = *rc::gen::element(facts::Carry::kQuota, facts::Carry::kChairman);
  const auto carried = *rc::gen::inRange<std::uint32_t>(0, 500);
  const auto counted = *rc::gen::inRange<std::uint32_t>(1, 500);
  const auto before = ShareTotal(*RunningMethodOf(terms), carried, ClaimantsOf(terms, 1));
  const auto after = ShareTotal(*RunningMethodOf(terms), carried + counted, ClaimantsOf(terms, 1));
  RC_ASSERT(before.ok() && after.ok());
  const Slings slings = SlingsBy(terms, counted, {.carried_slings = carried});
  for (std::size_t i = 0; i < slings.size(); ++i) {
    RC_ASSERT(slings[i] == (*after)[i] - (*before)[i]);
  }
}

RC_GTEST_PROP(SplitMethod, TakesTheSireSideFromNobodyElse, ()) {
  const facts::Terms terms = *AnyTerms();
  const auto counted = *AnyCount();
  const Occasion occasion = *AnyOccasion();
  Occasion alone = occasion;
  alone.sire_owners.clear();
  const auto divided = SplitOf(terms, counted, occasion);
  const auto plain = SplitOf(terms, counted, alone);
  RC_ASSERT(divided.ok() && plain.ok());
  for (std::size_t i = 0; i < terms.parties.size(); ++i) {
    const bool concerned = terms.parties[i].role == facts::PartyRole::kMaleOwner ||
                           std::ranges::find(occasion.sire_owners, terms.parties[i].keeper,
                                             &SireOwner::keeper) != occasion.sire_owners.end();
    if (!concerned) RC_ASSERT(divided->slings[i] == plain->slings[i]);
  }
}

TEST(SplitMethod, SharesTheSameClutchInFiveWays) {
  const facts::Terms terms = SharedBy({60, 30, 10});
  EXPECT_THAT(SlingsBy(By(facts::Method::kLargestRemainder, terms), 7), ElementsAre(4, 2, 1));
  EXPECT_THAT(SlingsBy(By(facts::Method::kDHondt, terms), 7), ElementsAre(5, 2, 0));
  EXPECT_THAT(SlingsBy(By(facts::Method::kAdams, terms), 7), ElementsAre(4, 2, 1));
}

TEST(SplitMethod, ShowsTheQuotientsAtTheMargin) {
  EXPECT_THAT(
      Working(By(facts::Method::kDHondt, SharedBy({60, 30, 10})), 7),
      ElementsAre("7 slings were counted.",
                  "All 7 slings are shared 60 : 30 : 10 by D'Hondt's method: a party's n-th sling "
                  "is worth its share / n, and the most worth are given. mira gets 5 slings, the "
                  "last worth 60/5.",
                  "tomas gets 2 slings, the last worth 30/2.", "bela gets none.",
                  "Of all that were given, mira's last is worth the least, 60/5; of those that "
                  "were not, mira's next is worth the most, 60/6."));
}

TEST(SplitMethod, ShowsFirstSlingsOfMethodsThatGiveThemToAll) {
  EXPECT_THAT(
      Working(By(facts::Method::kHuntingtonHill, SharedBy({3, 1})), 3),
      ElementsAre("3 slings were counted.",
                  "All 3 slings are shared 3 : 1 by Huntington and Hill's method: a party's n-th "
                  "sling is worth its share / sqrt(n (n - 1)), the first being worth more than "
                  "any, and the most worth are given. mira gets 2 slings, the last worth 3/sqrt(2 "
                  "x 1).",
                  "tomas gets 1 sling, the last worth a first sling.",
                  "Of all that were given, mira's last is worth the least, 3/sqrt(2 x 1); of those "
                  "that were not, mira's next is worth the most, 3/sqrt(3 x 2)."));
}

TEST(SplitMethod, ShowsWhatCarriesOver) {
  const facts::Terms terms = QuotaCarried(SharedBy({2, 1}));
  EXPECT_THAT(Working(terms, 4),
              ElementsAre("4 slings were counted.",
                          "All 4 slings are shared 2 : 1, and remainders carry over: these are the "
                          "first that the parties share so. One sling after the other goes to who "
                          "may have it without being ahead and would fall behind first (quota "
                          "method of Balinski and Young).",
                          "mira: 4 x 2/3 = 2 and 2/3 due so far, and 3 given.",
                          "tomas: 4 x 1/3 = 1 and 1/3 due so far, and 1 given."));
  const auto lines = Working(terms, 4, {.carried_slings = 4});
  ASSERT_EQ(lines.size(), 4U);
  EXPECT_THAT(lines[1], ::testing::HasSubstr("4 slings were shared so before, which makes 8."));
  EXPECT_EQ(lines[2], "mira: 8 x 2/3 = 5 and 1/3 due so far, and 6 given: 3 before, 3 now.");
  EXPECT_EQ(lines[3], "tomas: 8 x 1/3 = 2 and 2/3 due so far, and 2 given: 1 before, 1 now.");
}

TEST(SplitMethod, SharesALaterSacByItsOwnShares) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(1, 2)};
  terms.prior_claims[0].sacs_max = 1;
  terms.later_shares = {
      {.first_sac = 2, .shares = {{.party = 0, .weight = 3}, {.party = 1, .weight = 1}}}};
  EXPECT_THAT(SlingsBy(terms, 12), ElementsAre(5, 7));
  EXPECT_THAT(Working(terms, 12, {.sac_number = 2}),
              ElementsAre("12 slings were counted.",
                          "tomas has a prior claim only of the first sac: this is number 2, so it "
                          "does not apply.",
                          "The rest, 12 slings, is shared 3 : 1. mira: 12 x 3/4 = 9.",
                          "tomas: 12 x 1/4 = 3."));
}

TEST(SplitMethod, HoldsAClaimToItsFloorBeforeItsCap) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {PartOfRest(0, 500)};
  terms.prior_claims[0].slings_min = 8;
  EXPECT_THAT(SlingsBy(terms, 80), ElementsAre(44, 36));
  EXPECT_THAT(SlingsBy(terms, 6), ElementsAre(6, 0));
  terms.prior_claims[0].slings_max = 5;
  EXPECT_THAT(SlingsBy(terms, 80), ElementsAre(43, 37));
}

TEST(SireSide, IsDividedEquallyBetweenTheOwnersOfPossibleSiresWhereNothingIsSaid) {
  const Occasion occasion = {
      .sire_owners = {{.keeper = Keeper(2), .pairings = 3}, {.keeper = Keeper(3), .pairings = 1}}};
  EXPECT_THAT(
      Working(OfMale(), 21, occasion),
      ElementsAre(
          "21 slings were counted.",
          "All 21 slings are shared 1 : 1. mira: 21 x 1/2 = 10 and 1/2 left over.",
          "tomas: 21 x 1/2 = 10 and 1/2 left over.",
          "1 sling left over: it goes to the largest part still waiting, 1/2: mira. Of equal parts "
          "and equal shares, the lower keeper id comes first.",
          "Not only tomas's males may be the sire: 10 slings of tomas's are divided again, equally "
          "between the owners of the possible sires.",
          "tomas: 10 x 1/2 = 5.", "bela: 10 x 1/2 = 5."));
  const auto split = SplitOf(OfMale(), 21, occasion);
  ASSERT_TRUE(split.ok());
  EXPECT_THAT(split->keepers, ElementsAre(Keeper(1), Keeper(2), Keeper(3)));
  EXPECT_THAT(split->slings, ElementsAre(11, 5, 5));
}

TEST(SireSide, IsDividedByTheRuleOfTheTerms) {
  const Occasion occasion = {
      .sire_owners = {{.keeper = Keeper(2), .pairings = 3},
                      {.keeper = Keeper(3), .pairings = 1, .paired_last = true}}};
  using enum facts::SireRule;
  EXPECT_THAT(SlingsBy(OfMale(kAsWritten), 24, occasion), ElementsAre(12, 12));
  EXPECT_THAT(SlingsBy(OfMale(kEqual), 24, occasion), ElementsAre(12, 6, 6));
  EXPECT_THAT(SlingsBy(OfMale(kLastPaired), 24, occasion), ElementsAre(12, 0, 12));
  EXPECT_THAT(SlingsBy(OfMale(kPairings), 24, occasion), ElementsAre(12, 9, 3));
}

TEST(SireSide, StaysWithTheMalesOwnerWhoseMalesAreTheOnlyOnes) {
  for (const facts::SireRule rule : {facts::SireRule::kUnspecified, facts::SireRule::kPairings}) {
    const auto split =
        SplitOf(OfMale(rule), 21, {.sire_owners = {{.keeper = Keeper(2), .pairings = 2}}});
    ASSERT_TRUE(split.ok());
    EXPECT_THAT(split->slings, ElementsAre(11, 10));
    EXPECT_EQ(split->working.back().kind, StepKind::kRemainder);
  }
}

TEST(SireSide, LeavesPriorClaimsOfTheMalesOwnerAlone) {
  facts::Terms terms = OfMale();
  terms.prior_claims = {FirstSlings(1, 4)};
  EXPECT_THAT(SlingsBy(terms, 24, {.sire_owners = {{.keeper = Keeper(3), .pairings = 1}}}),
              ElementsAre(10, 9, 5));
}

TEST(SireSide, StaysAsWrittenBetweenMoreOwnersThanDivide) {
  Occasion occasion;
  for (std::uint32_t i = 0; i < facts::kSireOwnersMax + 1; ++i) {
    occasion.sire_owners.push_back({.keeper = Keeper(10 + i), .pairings = 1});
  }
  EXPECT_THAT(SlingsBy(OfMale(), 24, occasion), ElementsAre(12, 12));
}

}  // namespace
}  // namespace broodpact::shares
