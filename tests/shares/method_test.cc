// Goal: every method is the published one: slings go out to the last one, each to the largest
// claim, equal claims by the stated rule, and each method keeps what it promises. Method: laws over
// generated weights up to the limits, a list of all claims in exact fractions, and hand-made
// examples.
//
// Each law runs 1,000 cases; RC_PARAMS="max_success=100000" shares_tests runs as many more.

#include "client/shares/method.h"

#include <algorithm>
#include <random>
#include <string>

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
using ::testing::HasSubstr;
using Slings = std::vector<std::uint32_t>;

constexpr Method kDivisorMethods[] = {Method::kSainteLague, Method::kDHondt, Method::kAdams,
                                      Method::kHuntingtonHill};
constexpr Method kMethods[] = {Method::kLargestRemainder, Method::kSainteLague, Method::kDHondt,
                               Method::kAdams, Method::kHuntingtonHill};

Slings Shared(Method method, std::uint32_t slings, const std::vector<Claimant>& claimants) {
  const auto given = ShareBy(method, slings, claimants);
  return given.ok() ? *given : Slings{};
}

// The claim of `weight` to one sling more than `has`, from the definitions; of Huntington-Hill its
// square.
Fraction ClaimTo(Method method, Wide weight, Wide has) {
  switch (method) {
    case Method::kLargestRemainder:
      break;
    case Method::kSainteLague:
      return {.over = weight, .under = 2 * has + 1};
    case Method::kDHondt:
      return {.over = weight, .under = has + 1};
    case Method::kAdams:
      return {.over = weight, .under = has};
    case Method::kHuntingtonHill:
      return {.over = weight * weight, .under = has * (has + 1)};
  }
  return {};
}

struct ListedClaim {
  Fraction claim;
  std::size_t party = 0;
};

// Whether `a` stands before `b` in the list of claims.
bool StandsBefore(const ListedClaim& a, const ListedClaim& b,
                  const std::vector<Claimant>& claimants) {
  if (a.claim != b.claim) return a.claim > b.claim;
  const Claimant& claimant_a = claimants[a.party];
  const Claimant& claimant_b = claimants[b.party];
  if (claimant_a.weight != claimant_b.weight) return claimant_a.weight > claimant_b.weight;
  return claimant_a.keeper < claimant_b.keeper;
}

// The definition, word for word: the list of all claims that anybody could have, of which the first
// `slings` are met.
Slings ByListOfClaims(Method method, std::uint32_t slings, const std::vector<Claimant>& claimants) {
  std::vector<ListedClaim> list;
  for (std::size_t party = 0; party < claimants.size(); ++party) {
    for (std::uint32_t has = 0; has < slings; ++has) {
      list.push_back({ClaimTo(method, claimants[party].weight, has), party});
    }
  }
  std::ranges::sort(list, [&](const ListedClaim& a, const ListedClaim& b) {
    return StandsBefore(a, b, claimants);
  });
  Slings given(claimants.size());
  for (std::uint32_t i = 0; i < slings; ++i) ++given[list[i].party];
  return given;
}

RC_GTEST_PROP(Method, GivesOutExactlyTheSlingsCounted, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  for (const Method method : kMethods) {
    const Slings given = Shared(method, slings, claimants);
    RC_ASSERT(given.size() == claimants.size());
    RC_ASSERT(SumOf(given) == slings);
  }
}

RC_GTEST_PROP(Method, AgreesWithTheListOfAllClaims, ()) {
  auto claimants = *AnyClaimants();
  if (claimants.size() > 6) claimants.resize(6);
  const auto slings = *rc::gen::inRange<std::uint32_t>(0, 60);
  for (const Method method : kDivisorMethods) {
    RC_ASSERT(Shared(method, slings, claimants) == ByListOfClaims(method, slings, claimants));
  }
}

// The same at any size, where no list is possible: nobody who waits stands before one who was
// served. There is one such result for every number of slings.
RC_GTEST_PROP(Method, ServesNobodyBeforeALargerClaim, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  for (const Method method : kDivisorMethods) {
    const Slings given = Shared(method, slings, claimants);
    for (std::size_t last = 0; last < claimants.size(); ++last) {
      if (given[last] == 0) continue;
      const ListedClaim served{ClaimTo(method, claimants[last].weight, given[last] - 1), last};
      for (std::size_t next = 0; next < claimants.size(); ++next) {
        if (next == last) continue;
        const ListedClaim waits{ClaimTo(method, claimants[next].weight, given[next]), next};
        RC_ASSERT(!StandsBefore(waits, served, claimants));
      }
    }
  }
}

RC_GTEST_PROP(Method, TakesNothingBackForASlingMore, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  for (const Method method : kDivisorMethods) {
    const Slings fewer = Shared(method, slings, claimants);
    const Slings more = Shared(method, slings + 1, claimants);
    for (std::size_t i = 0; i < claimants.size(); ++i) RC_ASSERT(fewer[i] <= more[i]);
  }
}

RC_GTEST_PROP(Method, KeepsToTheQuotaAsFarAsPromised, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  const Wide sum = WeightSum(claimants);
  for (const Method method : {Method::kLargestRemainder, Method::kDHondt, Method::kAdams}) {
    const Slings given = Shared(method, slings, claimants);
    for (std::size_t i = 0; i < claimants.size(); ++i) {
      const Wide quota = Wide{slings} * claimants[i].weight;
      if (method != Method::kAdams) RC_ASSERT(quota < (Wide{given[i]} + 1) * sum);
      if (method != Method::kDHondt) RC_ASSERT(given[i] * sum < quota + sum);
    }
  }
}

RC_GTEST_PROP(Method, DoesNotDependOnTheOrderOfTheParties, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  auto turned = claimants;
  std::ranges::shuffle(turned, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  for (const Method method : kMethods) {
    RC_ASSERT(ByKeeper(turned, Shared(method, slings, turned)) ==
              ByKeeper(claimants, Shared(method, slings, claimants)));
  }
}

RC_GTEST_PROP(Method, TreatsEqualSharesAlikeAndLargerOnesNoWorse, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  for (const Method method : kMethods) {
    const Slings given = Shared(method, slings, claimants);
    for (std::size_t i = 0; i < claimants.size(); ++i) {
      for (std::size_t j = 0; j < claimants.size(); ++j) {
        if (claimants[i].weight > claimants[j].weight) RC_ASSERT(given[i] >= given[j]);
        if (claimants[i].weight == claimants[j].weight) RC_ASSERT(given[i] <= given[j] + 1);
      }
    }
  }
}

RC_GTEST_PROP(Method, DependsOnTheRatioAndNotOnHowItIsWritten, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  auto multiplied = claimants;
  const auto factor = *rc::gen::inRange<std::uint64_t>(1, kClaimantWeightMax / facts::kWeightMax);
  for (Claimant& claimant : multiplied) claimant.weight *= factor;
  for (const Method method : kMethods) {
    RC_ASSERT(Shared(method, slings, multiplied) == Shared(method, slings, claimants));
  }
}

RC_GTEST_PROP(Method, IsLargestRemainderByThatName, ()) {
  const auto claimants = *AnyClaimants();
  const auto slings = *AnyTotal();
  const auto awards = ShareByLargestRemainder(slings, claimants);
  RC_ASSERT(awards.ok());
  const Slings given = Shared(Method::kLargestRemainder, slings, claimants);
  for (std::size_t i = 0; i < claimants.size(); ++i) RC_ASSERT(given[i] == (*awards)[i].slings);
}

TEST(Method, SharesTheSameClutchInFiveWays) {
  const auto claimants = Weighing({74, 20, 4, 2});
  EXPECT_THAT(Shared(Method::kLargestRemainder, 13, claimants), ElementsAre(10, 3, 0, 0));
  EXPECT_THAT(Shared(Method::kSainteLague, 13, claimants), ElementsAre(9, 3, 1, 0));
  EXPECT_THAT(Shared(Method::kDHondt, 13, claimants), ElementsAre(11, 2, 0, 0));
  EXPECT_THAT(Shared(Method::kAdams, 13, claimants), ElementsAre(8, 3, 1, 1));
  EXPECT_THAT(Shared(Method::kHuntingtonHill, 13, claimants), ElementsAre(9, 2, 1, 1));
}

TEST(Method, GivesAFirstSlingToEverybodyBeforeASecondOnlyByAdamsAndHuntingtonHill) {
  const auto claimants = Weighing({1, 1'000, 1});
  EXPECT_THAT(Shared(Method::kAdams, 3, claimants), ElementsAre(1, 1, 1));
  EXPECT_THAT(Shared(Method::kHuntingtonHill, 3, claimants), ElementsAre(1, 1, 1));
  EXPECT_THAT(Shared(Method::kSainteLague, 3, claimants), ElementsAre(0, 3, 0));
  EXPECT_THAT(Shared(Method::kDHondt, 3, claimants), ElementsAre(0, 3, 0));
  EXPECT_THAT(Shared(Method::kLargestRemainder, 3, claimants), ElementsAre(0, 3, 0));
}

TEST(Method, GivesTooFewSlingsForAllToTheLargerSharesThenTheLowerIds) {
  for (const Method method : kDivisorMethods) {
    EXPECT_THAT(Shared(method, 2, Weighing({7, 8, 9})), ElementsAre(0, 1, 1));
    EXPECT_THAT(Shared(method, 2, Weighing({8, 8, 8})), ElementsAre(1, 1, 0));
  }
}

TEST(Method, SettlesEqualClaimsByTheLargerShareWhoeverHasTheLowerId) {
  // The second sling: 3 / 1.5 is as much as 1 / 0.5.
  EXPECT_THAT(Shared(Method::kSainteLague, 2, Weighing({1, 3})), ElementsAre(0, 2));
  // The second: 2 / 2 is as much as 1 / 1.
  EXPECT_THAT(Shared(Method::kDHondt, 2, Weighing({1, 2})), ElementsAre(0, 2));
  // The fourth: 4 / 2 is as much as 2 / 1.
  EXPECT_THAT(Shared(Method::kAdams, 4, Weighing({2, 4})), ElementsAre(1, 3));
  // The tenth: 36 / (8 * 9) is as much as 1 / (1 * 2).
  EXPECT_THAT(Shared(Method::kHuntingtonHill, 10, Weighing({1, 6})), ElementsAre(1, 9));
}

TEST(Method, TellsClaimsOfHuntingtonHillApartThatNoRootCould) {
  // Half of an odd sum of weights: both quotas end in a half. The squared claims to the last sling
  // are 4 + 1 / (n (n + 1)) for n slings and differ in the 18th digit; the smaller share is ahead.
  const auto claimants = Weighing({1'000'000'001, 800'000'001});
  EXPECT_THAT(Shared(Method::kHuntingtonHill, 900'000'001, claimants),
              ElementsAre(500'000'000, 400'000'001));
  EXPECT_THAT(Shared(Method::kSainteLague, 900'000'001, claimants),
              ElementsAre(500'000'001, 400'000'000));
}

TEST(Method, HoldsAtTheLimitsOfEveryNumber) {
  std::vector<Claimant> claimants;
  for (std::uint32_t i = 0; i < kClaimantsMax; ++i) {
    claimants.push_back({.keeper = Keeper(i + 1), .weight = kClaimantWeightMax - i % 2});
  }
  for (const Method method : kMethods) {
    const Slings given = Shared(method, kSlingsSharedMax, claimants);
    ASSERT_EQ(given.size(), kClaimantsMax);
    EXPECT_EQ(*std::ranges::min_element(given), 1'000'000U);
    EXPECT_EQ(*std::ranges::max_element(given), 1'000'000U);
  }
}

TEST(Method, GivesAPartyOfTheLeastWeightBesideTheGreatestWhatItsMethodSays) {
  const auto claimants = Weighing({1, kClaimantWeightMax});
  EXPECT_THAT(Shared(Method::kSainteLague, kSlingsSharedMax, claimants),
              ElementsAre(0, kSlingsSharedMax));
  EXPECT_THAT(Shared(Method::kDHondt, kSlingsSharedMax, claimants),
              ElementsAre(0, kSlingsSharedMax));
  EXPECT_THAT(Shared(Method::kAdams, kSlingsSharedMax, claimants),
              ElementsAre(1, kSlingsSharedMax - 1));
  EXPECT_THAT(Shared(Method::kHuntingtonHill, kSlingsSharedMax, claimants),
              ElementsAre(1, kSlingsSharedMax - 1));
}

TEST(Method, GivesNothingToAnybodyOutOfNothing) {
  for (const Method method : kMethods) {
    EXPECT_THAT(Shared(method, 0, Weighing({2, 1, 1})), ElementsAre(0, 0, 0));
  }
}

TEST(Method, RefusesAPartyWithoutAShareAndSaysWhatToDo) {
  for (const Method method : kMethods) {
    const auto given = ShareBy(method, 7, Weighing({1, 0}));
    EXPECT_EQ(ReasonOf(given.status()), "WEIGHT_OUT_OF_RANGE");
    EXPECT_THAT(std::string(given.status().message()), HasSubstr("leave a party without a share"));
  }
}

TEST(Method, NamesTheFirstOfSeveralFaultsInTheOrderOfItsContract) {
  const auto past = kSlingsSharedMax + 1;
  const std::vector<Claimant> crowd(kClaimantsMax + 1);
  for (const Method method : kMethods) {
    EXPECT_EQ(ReasonOf(ShareBy(method, past, {}).status()), "NO_PARTIES");
    EXPECT_EQ(ReasonOf(ShareBy(method, past, crowd).status()), "TOO_MANY_PARTIES");
    EXPECT_EQ(ReasonOf(ShareBy(method, past, Weighing({kClaimantWeightMax + 1})).status()),
              "WEIGHT_OUT_OF_RANGE");
    EXPECT_EQ(ReasonOf(ShareBy(method, past, Weighing({1})).status()), "SLINGS_OUT_OF_RANGE");
  }
}

}  // namespace
}  // namespace broodpact::shares
