// Goal: over many clutches at a fixed ratio nobody's total is a whole sling off the agreed share,
// no sling is ever taken back, and the methods are the published ones. Method: laws over generated
// ratios and sequences of 1,000 clutches, the papers' own rules step by step in exact fractions,
// the limits, and hand-made examples.
//
// Each law runs 1,000 cases; RC_PARAMS="max_success=100000" shares_tests runs as many more.

#include "client/shares/running.h"

#include <algorithm>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "client/shares/apportion.h"
#include "tests/shares/any_claimants.h"
#include "tests/shares/fraction.h"

namespace broodpact::shares {
namespace {

using ::testing::ElementsAre;
using Slings = std::vector<std::uint32_t>;

constexpr RunningMethod kRunningMethods[] = {RunningMethod::kQuota, RunningMethod::kChairman};

Slings Total(RunningMethod method, std::uint32_t slings, const std::vector<Claimant>& claimants) {
  const auto given = ShareTotal(method, slings, claimants);
  return given.ok() ? *given : Slings{};
}

// Slings of one clutch.
Slings Next(RunningMethod method, const NextClutch& clutch,
            const std::vector<Claimant>& claimants) {
  const auto awards = ShareNext(method, clutch, claimants);
  Slings slings;
  if (!awards.ok()) return slings;
  for (const RunningAward& award : *awards) slings.push_back(award.slings);
  return slings;
}

// Of two with an equal claim: who comes first.
bool ComesFirst(const Claimant& a, const Claimant& b) {
  return a.weight != b.weight ? a.weight > b.weight : a.keeper < b.keeper;
}

// Balinski & Young 1975: of those whose slings and one more stay within the quota rounded up, it
// goes to the largest weight / (slings + 1).
std::size_t NextByQuota(const Slings& given, std::uint32_t total,
                        const std::vector<Claimant>& claimants) {
  const Wide sum = WeightSum(claimants);
  std::size_t best = claimants.size();
  for (std::size_t i = 0; i < given.size(); ++i) {
    const Wide rounded_up = (Wide{total} * claimants[i].weight + sum - 1) / sum;
    if (given[i] + Wide{1} > rounded_up) continue;
    const auto claim = [&](std::size_t at) {
      return Fraction{.over = claimants[at].weight, .under = Wide{given[at]} + 1};
    };
    if (best == claimants.size() || claim(i) > claim(best) ||
        (claim(i) == claim(best) && ComesFirst(claimants[i], claimants[best]))) {
      best = i;
    }
  }
  return best;
}

// Tijdeman 1980: with d = 1 / (2 n - 2), of those who are at least d behind at this total, the one
// of the smallest (1 - d - behind) / share; that is (slings + 1 - d) / share less the total.
std::size_t NextByChairman(const Slings& given, std::uint32_t total,
                           const std::vector<Claimant>& claimants) {
  const Wide sum = WeightSum(claimants);
  const Wide parts = claimants.size() < 2 ? 2 : 2 * claimants.size() - 2;  // d is one of them
  const auto end = [&](std::size_t at) {
    return Fraction{.over = ((Wide{given[at]} + 1) * parts - 1) * sum,
                    .under = parts * claimants[at].weight};
  };
  std::size_t best = claimants.size();
  for (std::size_t i = 0; i < given.size(); ++i) {
    if (parts * total * claimants[i].weight < (parts * given[i] + 1) * sum) continue;
    if (best == claimants.size() || end(i) < end(best) ||
        (end(i) == end(best) && ComesFirst(claimants[i], claimants[best]))) {
      best = i;
    }
  }
  return best;
}

// One sling after the other from nothing.
Slings StepByStep(RunningMethod method, std::uint32_t total,
                  const std::vector<Claimant>& claimants) {
  Slings given(claimants.size());
  for (std::uint32_t now = 1; now <= total; ++now) {
    const std::size_t next = method == RunningMethod::kQuota
                                 ? NextByQuota(given, now, claimants)
                                 : NextByChairman(given, now, claimants);
    ++given.at(next);
  }
  return given;
}

// How far from the quota, in parts of the sum of weights.
Wide OffQuota(std::uint32_t given, std::uint32_t total, std::uint64_t weight, std::uint64_t sum) {
  const Wide has = Wide{given} * sum;
  const Wide due = Wide{total} * weight;
  return has > due ? has - due : due - has;
}

// Whether all are within what `method` promises: less than a whole sling, or Tijdeman's bound.
bool KeepsItsBound(RunningMethod method, const Slings& given, std::uint32_t total,
                   const std::vector<Claimant>& claimants) {
  const std::uint64_t sum = WeightSum(claimants);
  const Wide parts = claimants.size() < 2 ? 2 : 2 * claimants.size() - 2;
  for (std::size_t i = 0; i < given.size(); ++i) {
    const Wide off = OffQuota(given[i], total, claimants[i].weight, sum);
    if (off >= sum) return false;
    if (method == RunningMethod::kChairman && off * parts > (parts - 1) * sum) return false;
  }
  return true;
}

// Sizes of clutches as they come: none, few, or a sac of a large species.
std::uint32_t AnyClutch(std::mt19937& random) {
  constexpr std::uint32_t kSizes[] = {4, 40, 2'001, 2'001};
  const std::uint32_t size = kSizes[random() % 4];
  return static_cast<std::uint32_t>(random() % size);
}

RC_GTEST_PROP(Running, IsThePublishedRuleStepByStep, ()) {
  const auto claimants = *AnyEvenClaimants();
  const auto total = *rc::gen::inRange<std::uint32_t>(0, 300);
  for (const RunningMethod method : kRunningMethods) {
    RC_ASSERT(Total(method, total, claimants) == StepByStep(method, total, claimants));
  }
}

RC_GTEST_PROP(Running, IsThePublishedRuleForManyPartiesOfAnyWeight, ()) {
  const auto claimants = *AnyClaimants();
  const auto total = *rc::gen::inRange<std::uint32_t>(0, 120);
  for (const RunningMethod method : kRunningMethods) {
    RC_ASSERT(Total(method, total, claimants) == StepByStep(method, total, claimants));
  }
}

RC_GTEST_PROP(Running, KeepsItsBoundAndTakesNothingBackAtAnyTotal, ()) {
  const auto claimants = *AnyEvenClaimants();
  const auto total = *AnyTotal();
  for (const RunningMethod method : kRunningMethods) {
    const Slings given = Total(method, total, claimants);
    RC_ASSERT(given.size() == claimants.size());
    RC_ASSERT(SumOf(given) == total);
    RC_ASSERT(KeepsItsBound(method, given, total, claimants));
    const Slings more = Total(method, total + 1, claimants);
    for (std::size_t i = 0; i < given.size(); ++i) RC_ASSERT(given[i] <= more[i]);
  }
}

// After as many slings as the sum of weights nobody is ahead or behind, and all begins again.
RC_GTEST_PROP(Running, BeginsAgainWhenNobodyIsAheadOrBehind, ()) {
  const auto claimants = *AnyEvenClaimants();
  const auto total = *rc::gen::inRange<std::uint32_t>(0, 300);
  const auto times = *rc::gen::inRange<std::uint32_t>(1, 100);
  const auto sum = static_cast<std::uint32_t>(WeightSum(claimants));
  for (const RunningMethod method : kRunningMethods) {
    Slings expected = Total(method, total, claimants);
    for (std::size_t i = 0; i < expected.size(); ++i) {
      expected[i] += times * static_cast<std::uint32_t>(claimants[i].weight);
    }
    RC_ASSERT(Total(method, total + times * sum, claimants) == expected);
  }
}

RC_GTEST_PROP(Running, DoesNotDependOnTheOrderOfTheParties, ()) {
  const auto claimants = *AnyEvenClaimants();
  const auto total = *AnyTotal();
  auto turned = claimants;
  std::ranges::shuffle(turned, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  for (const RunningMethod method : kRunningMethods) {
    RC_ASSERT(ByKeeper(turned, Total(method, total, turned)) ==
              ByKeeper(claimants, Total(method, total, claimants)));
  }
}

RC_GTEST_PROP(Running, TreatsEqualSharesAlikeAndLargerOnesNoWorse, ()) {
  const auto claimants = *AnyEvenClaimants();
  const auto total = *AnyTotal();
  for (const RunningMethod method : kRunningMethods) {
    const Slings given = Total(method, total, claimants);
    for (std::size_t i = 0; i < claimants.size(); ++i) {
      for (std::size_t j = 0; j < claimants.size(); ++j) {
        if (claimants[i].weight == claimants[j].weight) RC_ASSERT(given[i] <= given[j] + 1);
        if (claimants[i].weight == claimants[j].weight &&
            claimants[i].keeper < claimants[j].keeper) {
          RC_ASSERT(given[i] >= given[j]);
        }
        if (claimants[i].weight > claimants[j].weight) RC_ASSERT(given[i] >= given[j]);
      }
    }
  }
}

RC_GTEST_PROP(Running, DependsOnTheRatioAndNotOnHowItIsWritten, ()) {
  auto claimants = *AnyEvenClaimants();
  for (Claimant& claimant : claimants) claimant.weight = claimant.weight % 50 + 1;
  const auto total = *AnyTotal();
  auto multiplied = claimants;
  const auto factor = *rc::gen::inRange<std::uint64_t>(1, facts::kWeightMax / 50);
  for (Claimant& claimant : multiplied) claimant.weight *= factor;
  for (const RunningMethod method : kRunningMethods) {
    RC_ASSERT(Total(method, total, multiplied) == Total(method, total, claimants));
  }
}

// The law that the room is for.
void ShareAThousandClutches(RunningMethod method, const std::vector<Claimant>& claimants,
                            std::uint32_t seed) {
  std::mt19937 random(seed);
  const std::uint64_t sum = WeightSum(claimants);
  Slings given(claimants.size());
  std::uint32_t total = 0;
  for (int i = 0; i < 1'000; ++i) {
    const NextClutch clutch{.slings_before = total, .slings = AnyClutch(random)};
    const auto awards = ShareNext(method, clutch, claimants);
    RC_ASSERT(awards.ok());
    RC_ASSERT(awards->size() == claimants.size());
    total += clutch.slings;
    std::uint32_t left = clutch.slings;
    for (std::size_t party = 0; party < given.size(); ++party) {
      const RunningAward& award = (*awards)[party];
      RC_ASSERT(award.slings_before == given[party]);
      RC_ASSERT(award.slings <= left);
      RC_ASSERT(award.slings_of_quota * sum + award.remainder ==
                std::uint64_t{total} * claimants[party].weight);
      left -= award.slings;
      given[party] += award.slings;
    }
    RC_ASSERT(left == 0U);
    RC_ASSERT(KeepsItsBound(method, given, total, claimants));
  }
}

RC_GTEST_PROP(Running, LeavesNobodyAWholeSlingOffOverAThousandClutchesByQuota, ()) {
  ShareAThousandClutches(RunningMethod::kQuota, *AnyAgreedClaimants(),
                         *rc::gen::arbitrary<std::uint32_t>());
}

RC_GTEST_PROP(Running, LeavesNobodyAWholeSlingOffOverAThousandClutchesByChairman, ()) {
  ShareAThousandClutches(RunningMethod::kChairman, *AnyAgreedClaimants(),
                         *rc::gen::arbitrary<std::uint32_t>());
}

// What it is for: the third clutch by largest remainder on totals would take a sling back.
TEST(Running, TakesNothingBackWhereLargestRemainderOnTotalsWould) {
  const auto claimants = Weighing({6, 6, 2});
  const auto by_remainder = [&](std::uint32_t total) {
    return ShareByLargestRemainder(total, claimants).value()[2].slings;
  };
  EXPECT_EQ(by_remainder(10), 2U);
  EXPECT_EQ(by_remainder(11), 1U);
  for (const RunningMethod method : kRunningMethods) {
    EXPECT_LE(Total(method, 10, claimants)[2], Total(method, 11, claimants)[2]);
  }
}

TEST(Running, EvensOutOddClutchesOfTwoPartiesWithEqualShares) {
  const auto claimants = Weighing({1, 1});
  for (const RunningMethod method : kRunningMethods) {
    EXPECT_THAT(Next(method, {.slings_before = 0, .slings = 7}, claimants), ElementsAre(4, 3));
    EXPECT_THAT(Next(method, {.slings_before = 7, .slings = 7}, claimants), ElementsAre(3, 4));
    EXPECT_THAT(Next(method, {.slings_before = 14, .slings = 1}, claimants), ElementsAre(1, 0));
    EXPECT_THAT(Next(method, {.slings_before = 15, .slings = 1}, claimants), ElementsAre(0, 1));
  }
}

TEST(Running, ShowsTheQuotaOfAllClutchesSoFar) {
  const auto awards =
      ShareNext(RunningMethod::kChairman, {.slings_before = 33, .slings = 41}, Weighing({60, 40}));
  ASSERT_TRUE(awards.ok());
  // 74 slings by 60 : 40 are 44.4 and 29.6.
  EXPECT_THAT(*awards, ElementsAre(RunningAward{24, 20, 44, 40}, RunningAward{17, 13, 29, 60}));
}

TEST(Running, GivesAllToOnePartyAlone) {
  for (const RunningMethod method : kRunningMethods) {
    EXPECT_THAT(Next(method, {.slings_before = 5, .slings = 9}, Weighing({7})), ElementsAre(9));
  }
}

TEST(Running, GivesNothingToAnybodyOutOfNothing) {
  for (const RunningMethod method : kRunningMethods) {
    EXPECT_THAT(Next(method, {.slings_before = 5, .slings = 0}, Weighing({2, 1, 1})),
                ElementsAre(0, 0, 0));
    EXPECT_THAT(Total(method, 0, Weighing({2, 1, 1})), ElementsAre(0, 0, 0));
  }
}

TEST(Running, HoldsAtTheLimitsOfEveryNumber) {
  std::vector<Claimant> claimants;
  for (std::uint32_t i = 0; i < kRunningBounds.claimants; ++i) {
    claimants.push_back({.keeper = Keeper(i + 1), .weight = kRunningBounds.weight - i % 2});
  }
  for (const RunningMethod method : kRunningMethods) {
    const Slings given = Total(method, kSlingsSharedMax, claimants);
    EXPECT_TRUE(SumOf(given) == kSlingsSharedMax);
    EXPECT_TRUE(KeepsItsBound(method, given, kSlingsSharedMax, claimants));
  }
}

TEST(Running, HasTheSmallestShareServedAsLateOrEarlyAsItsBoundAllows) {
  const auto claimants = Weighing({1, facts::kWeightMax});
  const std::uint32_t turn = facts::kWeightMax + 1;
  // By quota its first sling is its last chance; by chairman it is the nearest to half a turn.
  EXPECT_THAT(Total(RunningMethod::kQuota, turn - 1, claimants), ElementsAre(0, turn - 1));
  EXPECT_THAT(Total(RunningMethod::kQuota, turn, claimants), ElementsAre(1, turn - 1));
  EXPECT_THAT(Total(RunningMethod::kChairman, turn / 2, claimants), ElementsAre(0, turn / 2));
  EXPECT_THAT(Total(RunningMethod::kChairman, turn / 2 + 1, claimants), ElementsAre(1, turn / 2));
}

TEST(Running, NamesTheFirstOfSeveralFaultsInTheOrderOfItsContract) {
  const auto past = kSlingsSharedMax + 1;
  const std::vector<Claimant> crowd(kRunningBounds.claimants + 1);
  for (const RunningMethod method : kRunningMethods) {
    EXPECT_EQ(ReasonOf(ShareTotal(method, past, {}).status()), "NO_PARTIES");
    EXPECT_EQ(ReasonOf(ShareTotal(method, past, crowd).status()), "TOO_MANY_PARTIES");
    EXPECT_EQ(ReasonOf(ShareTotal(method, past, Weighing({kRunningBounds.weight + 1})).status()),
              "WEIGHT_OUT_OF_RANGE");
    EXPECT_EQ(ReasonOf(ShareTotal(method, past, Weighing({1})).status()), "SLINGS_OUT_OF_RANGE");
  }
}

TEST(Running, RefusesAClutchThatTakesTheTotalPastTheLimit) {
  const NextClutch last{.slings_before = kSlingsSharedMax - 1, .slings = 1};
  const NextClutch past{.slings_before = kSlingsSharedMax, .slings = 1};
  const NextClutch round{.slings_before = UINT32_MAX, .slings = UINT32_MAX};
  for (const RunningMethod method : kRunningMethods) {
    EXPECT_TRUE(ShareNext(method, last, Weighing({1, 1})).ok());
    EXPECT_EQ(ReasonOf(ShareNext(method, past, Weighing({1, 1})).status()), "SLINGS_OUT_OF_RANGE");
    EXPECT_EQ(ReasonOf(ShareNext(method, round, Weighing({1, 1})).status()), "SLINGS_OUT_OF_RANGE");
  }
}

}  // namespace
}  // namespace broodpact::shares
