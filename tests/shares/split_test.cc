// Goal: signed terms and a count give every party what the terms say, in the stated order, with a
// working that accounts for every sling. Method: laws over generated terms, then examples for each
// clause and its edges.

#include "client/shares/split.h"

#include <algorithm>
#include <map>
#include <numeric>
#include <ostream>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::vector<std::uint32_t> SlingsOf(const facts::Terms& terms, std::uint32_t counted) {
  const auto split = SplitOf(terms, counted);
  return split.ok() ? split->slings : std::vector<std::uint32_t>{};
}

// What each line of a kind says: who gets how many of how many.
struct Line {
  std::uint32_t party = 0;
  std::uint32_t slings_before = 0;
  std::uint32_t slings = 0;

  friend bool operator==(const Line&, const Line&) = default;
  friend void PrintTo(const Line& line, std::ostream* out) {
    *out << "party " << line.party << ": " << line.slings << " of " << line.slings_before;
  }
};

std::vector<Line> LinesOf(const facts::Terms& terms, std::uint32_t counted, StepKind kind) {
  std::vector<Line> lines;
  const auto split = SplitOf(terms, counted);
  if (!split.ok()) return lines;
  for (const Step& step : split->working) {
    if (step.kind == kind) lines.push_back({step.party, step.slings_before, step.slings});
  }
  return lines;
}

std::vector<TieRule> TiesOf(const facts::Terms& terms, std::uint32_t counted) {
  std::vector<TieRule> ties;
  const auto split = SplitOf(terms, counted);
  if (!split.ok()) return ties;
  for (const Step& step : split->working) {
    if (step.kind == StepKind::kRemainder) ties.push_back(step.tie);
  }
  return ties;
}

bool IsOfTheRest(StepKind kind) {
  return kind == StepKind::kQuota || kind == StepKind::kQuotient || kind == StepKind::kRunning ||
         kind == StepKind::kSirePart;
}

RC_GTEST_PROP(Split, GivesOutExactlyTheSlingsCounted, ()) {
  const auto terms = *AnyTerms();
  const auto counted = *AnyCount();
  const auto split = SplitOf(terms, counted, *AnyOccasion());
  RC_ASSERT(split.ok());
  RC_ASSERT(split->slings_counted == counted);
  RC_ASSERT(split->slings.size() == split->keepers.size());
  for (std::size_t i = 0; i < terms.parties.size(); ++i) {
    RC_ASSERT(split->keepers[i] == terms.parties[i].keeper);
  }
  RC_ASSERT(std::accumulate(split->slings.begin(), split->slings.end(), 0U) == counted);
}

RC_GTEST_PROP(Split, HasAWorkingThatAccountsForEverySling, ()) {
  const auto terms = *AnyTerms();
  const auto counted = *AnyCount();
  const auto split = SplitOf(terms, counted, *AnyOccasion());
  RC_ASSERT(split.ok());
  std::vector<std::uint32_t> given(split->keepers.size());
  std::uint32_t left = counted;
  for (const Step& step : split->working) {
    // Lines of a ratio are all of the same rest; every other line says what was there before it.
    if (!IsOfTheRest(step.kind)) RC_ASSERT(step.slings_before == left);
    if (step.kind == StepKind::kSireSide) {
      RC_ASSERT(step.slings <= given[step.party]);
      left += step.slings;
      given[step.party] -= step.slings;
      continue;
    }
    RC_ASSERT(step.slings <= left);
    left -= step.slings;
    given[step.party] += step.slings;
  }
  RC_ASSERT(left == 0U);
  RC_ASSERT(given == split->slings);
}

RC_GTEST_PROP(Split, LeavesNobodyAWholeSlingFromTheRatioOfTheWholeClutch, ()) {
  const auto terms = *AnyRatioTerms();
  const std::uint64_t counted = *AnyCount();
  std::uint64_t sum = 0;
  for (const facts::RatioShare& share : terms.shares) sum += share.weight;
  const auto slings = SlingsOf(terms, static_cast<std::uint32_t>(counted));
  for (const facts::RatioShare& share : terms.shares) {
    const std::uint64_t quota = counted * share.weight;
    RC_ASSERT(slings[share.party] * sum < quota + sum);
    RC_ASSERT(quota < slings[share.party] * sum + sum);
  }
}

RC_GTEST_PROP(Split, DoesNotDependOnTheOrderInWhichPartiesAndSharesAreNamed, ()) {
  facts::Terms terms = *AnyTerms();
  // Without shares the rest goes to the party named first: there the order is part of the deal.
  if (terms.shares.empty()) terms.shares.push_back({.party = 0, .weight = 1});
  const auto counted = *AnyCount();
  const auto occasion = *AnyOccasion();
  const auto by_keeper = [&] {
    std::map<KeeperId, std::uint32_t> result;
    const auto split = SplitOf(terms, counted, occasion);
    if (!split.ok()) return result;
    for (std::size_t i = 0; i < split->slings.size(); ++i) {
      result[split->keepers[i]] = split->slings[i];
    }
    return result;
  };
  const auto before = by_keeper();

  std::mt19937 random(*rc::gen::arbitrary<std::uint32_t>());
  std::vector<std::uint32_t> place(terms.parties.size());
  std::iota(place.begin(), place.end(), 0U);
  std::ranges::shuffle(place, random);
  std::vector<facts::Party> parties(terms.parties.size());
  for (std::size_t i = 0; i < place.size(); ++i) parties[place[i]] = terms.parties[i];
  terms.parties = parties;
  for (facts::PriorClaim& claim : terms.prior_claims) claim.party = place[claim.party];
  for (facts::RatioShare& share : terms.shares) share.party = place[share.party];
  for (facts::LaterShares& later : terms.later_shares) {
    for (facts::RatioShare& share : later.shares) share.party = place[share.party];
  }
  if (terms.small_clutch) terms.small_clutch->party = place[terms.small_clutch->party];
  std::ranges::shuffle(terms.shares, random);

  RC_ASSERT(by_keeper() == before);
}

RC_GTEST_PROP(Split, GivesEqualSharesNumbersThatDifferByAtMostOne, ()) {
  facts::Terms terms = *AnyRatioTerms();
  for (facts::RatioShare& share : terms.shares) share.weight = terms.shares.front().weight;
  const auto slings = SlingsOf(terms, *AnyCount());
  const auto [least, most] = std::ranges::minmax(slings);
  RC_ASSERT(most - least <= 1U);
}

RC_GTEST_PROP(Split, NeverGivesAPriorClaimMoreThanItsAmountItsCapOrWhatIsLeft, ()) {
  const auto terms = *AnyTerms();
  const auto counted = *AnyCount();
  const auto split = SplitOf(terms, counted);
  RC_ASSERT(split.ok());
  for (const Step& step : split->working) {
    if (step.kind != StepKind::kPriorClaim) continue;
    const facts::PriorClaim& claim = terms.prior_claims[step.claim];
    RC_ASSERT(counted >= claim.slings_counted_min);
    const bool is_part = claim.kind == facts::ClaimKind::kBasisPoints;
    const std::uint64_t amount = std::max<std::uint64_t>(
        is_part ? std::uint64_t{step.slings_before} * claim.amount / 10'000 : claim.amount,
        claim.slings_min);
    const std::uint64_t cap = claim.slings_max == 0 ? amount : claim.slings_max;
    const std::uint64_t left = step.slings_before;
    RC_ASSERT(step.slings == std::min({amount, cap, left}));
  }
}

TEST(Split, SharesAClutchByTheRatio) {
  EXPECT_THAT(SlingsOf(SharedBy({1, 1}), 100), ElementsAre(50, 50));
  EXPECT_THAT(SlingsOf(SharedBy({2, 1, 1}), 177), ElementsAre(89, 44, 44));
}

TEST(Split, TakesPriorClaimsOneAfterTheOtherFromWhatIsLeft) {
  facts::Terms terms = SharedBy({1, 1, 1});
  terms.prior_claims = {FirstSlings(0, 10), PartOfRest(1, 1'000), PartOfRest(2, 1'000)};
  EXPECT_THAT(LinesOf(terms, 110, StepKind::kPriorClaim),
              ElementsAre(Line{0, 110, 10}, Line{1, 100, 10}, Line{2, 90, 9}));
  EXPECT_THAT(SlingsOf(terms, 110), ElementsAre(37, 37, 36));
}

TEST(Split, TakesTheClaimFirstThatStandsFirst) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {PartOfRest(1, 1'000), FirstSlings(0, 10)};
  EXPECT_THAT(LinesOf(terms, 110, StepKind::kPriorClaim),
              ElementsAre(Line{1, 110, 11}, Line{0, 99, 10}));
}

TEST(Split, RoundsAPartOfTheRestDown) {
  facts::Terms terms = SharedBy({1});
  terms.parties.push_back({.keeper = Keeper(2)});
  terms.prior_claims = {PartOfRest(1, 750)};
  EXPECT_THAT(SlingsOf(terms, 177), ElementsAre(164, 13));  // 13.275
  terms.prior_claims = {PartOfRest(1, 9'999)};
  EXPECT_THAT(SlingsOf(terms, 9'999), ElementsAre(1, 9'998));  // 9998.0001
  terms.prior_claims = {PartOfRest(1, 1)};
  EXPECT_THAT(SlingsOf(terms, 9'999), ElementsAre(9'999, 0));
  EXPECT_THAT(SlingsOf(terms, 10'000), ElementsAre(9'999, 1));
  EXPECT_THAT(SlingsOf(terms, facts::kSlingsMax), ElementsAre(999'900, 100));
}

TEST(Split, CapsAClaimAtItsMostAndAtWhatIsLeft) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {PartOfRest(0, 5'000), FirstSlings(1, 20)};
  terms.prior_claims[0].slings_max = 8;
  EXPECT_THAT(LinesOf(terms, 30, StepKind::kPriorClaim),
              ElementsAre(Line{0, 30, 8}, Line{1, 22, 20}));
  EXPECT_THAT(LinesOf(terms, 12, StepKind::kPriorClaim),
              ElementsAre(Line{0, 12, 6}, Line{1, 6, 6}));
}

TEST(Split, ShowsAClaimWhoseConditionDoesNotHold) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(0, 10)};
  terms.prior_claims[0].slings_counted_min = 100;
  EXPECT_THAT(LinesOf(terms, 99, StepKind::kClaimIdle), ElementsAre(Line{0, 99, 0}));
  EXPECT_THAT(SlingsOf(terms, 98), ElementsAre(49, 49));
  EXPECT_THAT(LinesOf(terms, 100, StepKind::kClaimIdle), IsEmpty());
  EXPECT_THAT(SlingsOf(terms, 100), ElementsAre(55, 45));
}

TEST(Split, MeasuresAConditionByTheCountAndNotByWhatIsLeft) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(0, 50), FirstSlings(1, 10)};
  terms.prior_claims[1].slings_counted_min = 100;
  EXPECT_THAT(LinesOf(terms, 100, StepKind::kPriorClaim),
              ElementsAre(Line{0, 100, 50}, Line{1, 50, 10}));
}

TEST(Split, GivesASmallClutchWholeToOnePartyBeforeAnyClaim) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(0, 10)};
  terms.small_clutch = {.below = 20, .party = 1};
  EXPECT_THAT(SlingsOf(terms, 19), ElementsAre(0, 19));
  EXPECT_THAT(LinesOf(terms, 19, StepKind::kSmallClutch), ElementsAre(Line{1, 19, 19}));
  EXPECT_THAT(SlingsOf(terms, 20), ElementsAre(15, 5));
}

TEST(Split, LeavesWhatNoShareCoversToThePartyNamedFirst) {
  facts::Terms terms = SharedBy({1, 1});
  terms.shares.clear();
  terms.prior_claims = {PartOfRest(1, 5'000)};
  EXPECT_THAT(SlingsOf(terms, 9), ElementsAre(5, 4));
  EXPECT_THAT(LinesOf(terms, 9, StepKind::kLeft), ElementsAre(Line{0, 5, 5}));
  terms.prior_claims = {PartOfRest(1, 10'000)};
  EXPECT_THAT(SlingsOf(terms, 9), ElementsAre(0, 9));
  EXPECT_THAT(LinesOf(terms, 9, StepKind::kLeft), IsEmpty());
}

TEST(Split, OfNothingHasOneLine) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(0, 10)};
  terms.small_clutch = {.below = 20, .party = 1};
  const auto split = SplitOf(terms, 0);
  ASSERT_TRUE(split.ok());
  EXPECT_THAT(split->slings, ElementsAre(0, 0));
  EXPECT_THAT(split->working, ElementsAre(Step{.kind = StepKind::kCounted}));
}

TEST(Split, HasNoQuotasWhereClaimsTookEverything) {
  facts::Terms terms = SharedBy({1, 1});
  terms.prior_claims = {FirstSlings(0, 10)};
  EXPECT_THAT(SlingsOf(terms, 10), ElementsAre(10, 0));
  EXPECT_THAT(LinesOf(terms, 10, StepKind::kQuota), IsEmpty());
}

TEST(Split, SaysWhichRuleSettledEqualRemainders) {
  EXPECT_THAT(TiesOf(SharedBy({1, 1}), 3), ElementsAre(TieRule::kLowerKeeper));
  EXPECT_THAT(TiesOf(SharedBy({1, 3}), 2), ElementsAre(TieRule::kLargerShare));
  // Both that have the larger remainder get one: nobody with an equal one goes without.
  EXPECT_THAT(TiesOf(SharedBy({2, 2, 1}), 8), ElementsAre(TieRule::kNoTie));
  // 187 by 40 : 40 : 10 : 10 leaves 80, 80, 70 and 70 hundredths: the tie is for the third.
  EXPECT_THAT(TiesOf(SharedBy({40, 40, 10, 10}), 187),
              ElementsAre(TieRule::kNoTie, TieRule::kNoTie, TieRule::kLowerKeeper));
}

TEST(Split, HoldsAtTheLimitsOfEveryNumber) {
  facts::Terms terms;
  for (std::uint32_t i = 0; i < facts::kPartiesMax; ++i) {
    terms.parties.push_back({.keeper = Keeper(i + 1)});
    terms.shares.push_back({.party = i, .weight = facts::kWeightMax});
    terms.prior_claims.push_back(PartOfRest(i, 1));
  }
  const auto slings = SlingsOf(terms, facts::kSlingsMax);
  ASSERT_EQ(slings.size(), facts::kPartiesMax);
  EXPECT_EQ(std::accumulate(slings.begin(), slings.end(), 0U), facts::kSlingsMax);
  EXPECT_THAT(LinesOf(terms, facts::kSlingsMax, StepKind::kPriorClaim).back(),
              (Line{15, 998'514, 99}));
}

TEST(Split, RefusesACountPastTheLimit) {
  EXPECT_EQ(ReasonOf(SplitOf(SharedBy({1, 1}), facts::kSlingsMax + 1).status()),
            "SLINGS_OUT_OF_RANGE");
}

}  // namespace
}  // namespace broodpact::shares
