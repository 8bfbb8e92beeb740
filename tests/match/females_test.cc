// Goal: females stand in the stated order, the same on every replica, and none that is out of
// bounds. Method: laws over candidates that agree in most criteria, and one example of each
// criterion against all later ones.

#include "client/match/females.h"

#include <algorithm>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/match/any_candidate.h"

namespace broodpact::match {
namespace {

rc::Gen<std::vector<FemaleCandidate>> AnyFemales() {
  return rc::gen::exec([] {
    std::vector<FemaleCandidate> females(*rc::gen::inRange<std::size_t>(0, 30));
    for (std::size_t i = 0; i < females.size(); ++i) {
      females[i] = {
          .animal = Animal(static_cast<std::uint8_t>(i)),
          .availability = *rc::gen::element(Availability::kFree, Availability::kPromised),
          .breeding = *rc::gen::element(Breeding::kReady, Breeding::kOccupied),
          .nearness = *rc::gen::element(Nearness::kOwn, Nearness::kAbroad),
          .moult_days = *rc::gen::element<std::optional<std::int32_t>>(std::nullopt, 30, 90),
          .offspring_inbreeding = *AnyOf(0, 0.25)};
    }
    return females;
  });
}

rc::Gen<FemaleBounds> AnyFemaleBounds() {
  return rc::gen::exec([] { return FemaleBounds{.offspring_inbreeding_max = *AnyOf(0, 0.125)}; });
}

std::vector<FemaleCandidate> Shuffled(std::vector<FemaleCandidate> females) {
  std::ranges::shuffle(females, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  return females;
}

RC_GTEST_PROP(RankFemales, DoesNotDependOnTheOrderInWhichTheyCome, ()) {
  const auto females = *AnyFemales();
  const auto bounds = *AnyFemaleBounds();
  RC_ASSERT(RankFemales(females, bounds) == RankFemales(Shuffled(females), bounds));
}

RC_GTEST_PROP(RankFemales, ShowsNoneThatIsOutOfBoundsAndLosesNoOther, ()) {
  const auto females = *AnyFemales();
  const auto bounds = *AnyFemaleBounds();
  const auto shown = RankFemales(females, bounds);
  const auto is_out = [&](const FemaleCandidate& female) {
    return bounds.offspring_inbreeding_max && female.offspring_inbreeding &&
           *female.offspring_inbreeding > *bounds.offspring_inbreeding_max;
  };
  RC_ASSERT(std::ranges::none_of(shown, is_out));
  RC_ASSERT(shown.size() + static_cast<std::size_t>(std::ranges::count_if(females, is_out)) ==
            females.size());
}

RC_GTEST_PROP(RankFemales, OrdersEachPairAsIfItWereAlone, ()) {
  const auto ranked = RankFemales(*AnyFemales(), {});
  for (std::size_t i = 0; i < ranked.size(); ++i) {
    for (std::size_t j = i + 1; j < ranked.size(); ++j) {
      RC_ASSERT(RankFemales({ranked[j], ranked[i]}, {}).front() == ranked[i]);
    }
  }
}

TEST(RankFemales, GoesByItsCriteriaInTheOrderOfTheContract) {
  const FemaleCandidate base{.animal = Animal(5), .moult_days = 30, .offspring_inbreeding = 0};
  // Each is behind the one before it by one criterion, and ahead of it in all later ones.
  std::vector<FemaleCandidate> expected(6, base);
  expected[0].nearness = Nearness::kOwn;
  expected[1].nearness = Nearness::kOwn;
  expected[1].animal = Animal(6);
  expected[2].nearness = Nearness::kAbroad;
  expected[2].animal = Animal(4);
  expected[3].moult_days = 90;
  expected[3].nearness = Nearness::kOwn;
  expected[3].animal = Animal(3);
  expected[4].offspring_inbreeding = 0.25;
  expected[4].nearness = Nearness::kOwn;
  expected[4].animal = Animal(2);
  expected[5].availability = Availability::kPromised;
  expected[5].nearness = Nearness::kOwn;
  expected[5].animal = Animal(1);
  std::vector<FemaleCandidate> given = expected;
  std::ranges::reverse(given);
  EXPECT_EQ(RankFemales(given, {}), expected);
}

TEST(RankFemales, PutsAnUnknownMoultLast) {
  const FemaleCandidate known{.animal = Animal(9), .moult_days = 900};
  const FemaleCandidate unknown{.animal = Animal(1)};
  EXPECT_EQ(RankFemales({unknown, known}, {}).front(), known);
}

TEST(RankFemales, PutsTheReadyBeforeThoseOfWhomItIsNotSaidAndTheOccupiedLast) {
  const FemaleCandidate ready{.animal = Animal(9), .breeding = Breeding::kReady};
  const FemaleCandidate not_said{.animal = Animal(5), .breeding = Breeding::kMaturityNotSaid};
  const FemaleCandidate occupied{.animal = Animal(1), .breeding = Breeding::kOccupied};
  EXPECT_THAT(RankFemales({occupied, not_said, ready}, {}),
              ::testing::ElementsAre(ready, not_said, occupied));
  EXPECT_THAT(RankFemales({occupied, not_said, ready}, {.breeding_max = Breeding::kReady}),
              ::testing::ElementsAre(ready));
}

TEST(RankFemales, LeavesOutWhatIsOutOfAnyBound) {
  const std::vector<FemaleCandidate> females{
      {.animal = Animal(1), .availability = Availability::kPromised},
      {.animal = Animal(2), .nearness = Nearness::kAbroad},
      {.animal = Animal(3), .distance_km = 401},
      {.animal = Animal(4), .moult_days = 201},
      {.animal = Animal(5), .diversity_gain = -0.1},
      {.animal = Animal(6)}};
  const auto ranked = RankFemales(females, {.diversity_gain_min = 0,
                                            .moult_days_max = 200,
                                            .distance_km_max = 400,
                                            .availability_max = Availability::kPromisedBefore,
                                            .borders = Borders::kKept});
  EXPECT_THAT(ranked, ::testing::ElementsAre(females[5]));
}

TEST(RankFemales, SaysItsOrderAndWhichCriterionDecided) {
  EXPECT_EQ(OrderOf(std::span<const FemaleCriterion>()), kFemaleOrder);
  const std::vector<FemaleCriterion> ignored{
      FemaleCriterion::kAvailability, FemaleCriterion::kBreeding, FemaleCriterion::kInbreeding,
      FemaleCriterion::kGain, FemaleCriterion::kMoult};
  EXPECT_EQ(OrderOf(ignored), "nearer");
  const FemaleCandidate one{.animal = Animal(1), .moult_days = 30};
  const FemaleCandidate other{.animal = Animal(2), .moult_days = 90};
  EXPECT_EQ(DecisiveOf(one, other, {}), FemaleCriterion::kMoult);
  EXPECT_EQ(DecisiveOf(one, other, ignored), std::nullopt);
}

}  // namespace
}  // namespace broodpact::match
