// Goal: slings are shared out to the last one, nobody ends a whole sling away from the exact quota,
// and equal remainders are settled by the stated rule and by nothing else. Method: laws over
// generated ratios, a naive twin, the limits, and hand-made examples.

#include "client/shares/apportion.h"

#include <algorithm>
#include <map>
#include <numeric>
#include <random>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "tests/shares/any_claimants.h"

namespace broodpact::shares {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

std::vector<std::uint32_t> SlingsIn(const std::vector<Award>& awards) {
  std::vector<std::uint32_t> slings;
  for (const Award& award : awards) slings.push_back(award.slings);
  return slings;
}

std::vector<std::uint32_t> Shared(std::uint32_t slings, const std::vector<Claimant>& claimants) {
  const auto awards = ShareByLargestRemainder(slings, claimants);
  return awards.ok() ? SlingsIn(*awards) : std::vector<std::uint32_t>{};
}

Wide WeightSum(const std::vector<Claimant>& claimants) {
  Wide sum = 0;
  for (const Claimant& claimant : claimants) sum += claimant.weight;
  return sum;
}

// The definition, word for word and slowly: whole parts, then one sling at a time to whoever is
// furthest behind.
std::vector<std::uint32_t> NaiveTwin(std::uint32_t slings, const std::vector<Claimant>& claimants) {
  const Wide sum = WeightSum(claimants);
  std::vector<std::uint32_t> given(claimants.size());
  std::vector<bool> served(claimants.size());
  for (std::size_t i = 0; i < given.size(); ++i) {
    while (Wide{given[i] + 1} * sum <= Wide{slings} * claimants[i].weight) ++given[i];
  }
  while (std::accumulate(given.begin(), given.end(), 0U) < slings) {
    std::size_t best = claimants.size();
    for (std::size_t i = 0; i < given.size(); ++i) {
      if (served[i]) continue;
      const auto rank = [&](std::size_t at) {
        const Wide behind = Wide{slings} * claimants[at].weight - Wide{given[at]} * sum;
        return std::pair(behind, claimants[at].weight);
      };
      if (best == claimants.size() || rank(i) > rank(best) ||
          (rank(i) == rank(best) && claimants[i].keeper < claimants[best].keeper)) {
        best = i;
      }
    }
    served[best] = true;
    ++given[best];
  }
  return given;
}

RC_GTEST_PROP(Share, GivesOutExactlyTheSlingsCounted, ()) {
  const auto claimants = ClaimantsOf(*AnyRatioTerms());
  const auto slings = *AnyCount();
  const auto given = Shared(slings, claimants);
  RC_ASSERT(given.size() == claimants.size());
  RC_ASSERT(std::accumulate(given.begin(), given.end(), 0U) == slings);
}

RC_GTEST_PROP(Share, LeavesNobodyAWholeSlingFromTheQuota, ()) {
  const auto claimants = ClaimantsOf(*AnyRatioTerms());
  const auto slings = *AnyCount();
  const Wide sum = WeightSum(claimants);
  const auto given = Shared(slings, claimants);
  for (std::size_t i = 0; i < claimants.size(); ++i) {
    const Wide quota = Wide{slings} * claimants[i].weight;
    RC_ASSERT(given[i] * sum < quota + sum);
    RC_ASSERT(quota < given[i] * sum + sum);
  }
}

RC_GTEST_PROP(Share, DoesNotDependOnTheOrderOfTheParties, ()) {
  auto claimants = ClaimantsOf(*AnyRatioTerms());
  const auto slings = *AnyCount();
  const auto by_keeper = [&] {
    const auto given = Shared(slings, claimants);
    std::map<KeeperId, std::uint32_t> result;
    for (std::size_t i = 0; i < given.size(); ++i) result[claimants[i].keeper] = given[i];
    return result;
  };
  const auto before = by_keeper();
  std::ranges::shuffle(claimants, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  RC_ASSERT(by_keeper() == before);
}

RC_GTEST_PROP(Share, NeverGivesALargerShareFewerSlings, ()) {
  const auto claimants = ClaimantsOf(*AnyRatioTerms());
  const auto given = Shared(*AnyCount(), claimants);
  for (std::size_t i = 0; i < claimants.size(); ++i) {
    for (std::size_t j = 0; j < claimants.size(); ++j) {
      if (claimants[i].weight > claimants[j].weight) RC_ASSERT(given[i] >= given[j]);
      if (claimants[i].weight == claimants[j].weight) RC_ASSERT(given[i] <= given[j] + 1);
    }
  }
}

RC_GTEST_PROP(Share, AgreesWithTheDefinitionDoneSlowly, ()) {
  const auto claimants = ClaimantsOf(*AnyRatioTerms());
  const auto slings = *rc::gen::inRange<std::uint32_t>(0, 300);
  RC_ASSERT(Shared(slings, claimants) == NaiveTwin(slings, claimants));
}

RC_GTEST_PROP(Share, ShowsAWorkingThatAddsUp, ()) {
  const auto claimants = ClaimantsOf(*AnyRatioTerms());
  const auto slings = *AnyCount();
  const auto awards = ShareByLargestRemainder(slings, claimants);
  RC_ASSERT(awards.ok());
  for (std::size_t i = 0; i < claimants.size(); ++i) {
    const Award& award = (*awards)[i];
    const Wide quota = Wide{slings} * claimants[i].weight;
    RC_ASSERT(award.slings_of_quota * WeightSum(claimants) + award.remainder == quota);
    RC_ASSERT(award.slings - award.slings_of_quota <= 1U);
  }
}

TEST(Share, SettlesEqualRemaindersByTheLargerShareWhoeverHasTheLowerId) {
  // Both quotas end in a half: 1 1/2 and 1/2.
  EXPECT_THAT(Shared(2, Weighing({1, 3})), ElementsAre(0, 2));
  EXPECT_THAT(Shared(2, Weighing({3, 1})), ElementsAre(2, 0));
}

TEST(Share, SettlesEqualRemaindersOfEqualSharesByTheLowerId) {
  const Claimant mira{.keeper = Keeper(7), .weight = 1};
  const Claimant tomas{.keeper = Keeper(9), .weight = 1};
  EXPECT_THAT(Shared(5, {mira, tomas}), ElementsAre(3, 2));
  EXPECT_THAT(Shared(5, {tomas, mira}), ElementsAre(2, 3));
}

TEST(Share, GivesNothingToAnybodyOutOfNothing) {
  EXPECT_THAT(Shared(0, Weighing({2, 1, 1})), ElementsAre(0, 0, 0));
}

TEST(Share, HoldsAtTheLimitsOfEveryNumber) {
  std::vector<Claimant> claimants;
  for (std::uint32_t i = 0; i < kClaimantsMax; ++i) {
    claimants.push_back({.keeper = Keeper(i + 1), .weight = kClaimantWeightMax - i % 2});
  }
  const auto given = Shared(kSlingsSharedMax, claimants);
  ASSERT_EQ(given.size(), kClaimantsMax);
  EXPECT_EQ(std::accumulate(given.begin(), given.end(), 0U), kSlingsSharedMax);
  // A million each would be even; the heavier half is a hair above it, which is less than half.
  EXPECT_EQ(*std::ranges::min_element(given), 1'000'000U);
  EXPECT_EQ(*std::ranges::max_element(given), 1'000'000U);
}

TEST(Share, GivesAPartyOfTheLeastWeightNothingBesideTheGreatest) {
  EXPECT_THAT(Shared(kSlingsSharedMax, Weighing({1, kClaimantWeightMax})),
              ElementsAre(0, kSlingsSharedMax));
}

TEST(Share, RefusesToShareAmongNobody) {
  EXPECT_EQ(ReasonOf(ShareByLargestRemainder(7, {}).status()), "NO_PARTIES");
}

TEST(Share, RefusesAPartyWithoutAShareAndSaysWhatToDo) {
  const auto awards = ShareByLargestRemainder(7, Weighing({1, 0}));
  EXPECT_EQ(ReasonOf(awards.status()), "WEIGHT_OUT_OF_RANGE");
  EXPECT_THAT(std::string(awards.status().message()),
              HasSubstr("leave a party without a share out"));
}

TEST(Share, RefusesWhatIsPastTheLimits) {
  const std::vector<Claimant> crowd(kClaimantsMax + 1, {.keeper = Keeper(1), .weight = 1});
  EXPECT_EQ(ReasonOf(ShareByLargestRemainder(1, crowd).status()), "TOO_MANY_PARTIES");
  EXPECT_EQ(ReasonOf(ShareByLargestRemainder(1, Weighing({kClaimantWeightMax + 1})).status()),
            "WEIGHT_OUT_OF_RANGE");
  EXPECT_EQ(ReasonOf(ShareByLargestRemainder(kSlingsSharedMax + 1, Weighing({1})).status()),
            "SLINGS_OUT_OF_RANGE");
}

TEST(Share, NamesTheFirstOfSeveralFaultsInTheOrderOfItsContract) {
  const auto past = kSlingsSharedMax + 1;
  EXPECT_EQ(ReasonOf(ShareByLargestRemainder(past, {}).status()), "NO_PARTIES");
  const std::vector<Claimant> crowd(kClaimantsMax + 1);
  EXPECT_EQ(ReasonOf(ShareByLargestRemainder(past, crowd).status()), "TOO_MANY_PARTIES");
  EXPECT_EQ(ReasonOf(ShareByLargestRemainder(past, Weighing({0})).status()), "WEIGHT_OUT_OF_RANGE");
}

}  // namespace
}  // namespace broodpact::shares
