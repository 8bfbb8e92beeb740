// Goal: the share alive follows from the lives as defined, and no number appears where the data
// carry none. Method: laws with many equal ages, a naive twin, and examples at each edge.

#include "client/survival/kaplan_meier.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <set>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/survival/time_left.h"

namespace broodpact::survival {
namespace {

using ::testing::DoubleEq;
using ::testing::IsEmpty;
using ::testing::Optional;
using ::testing::SizeIs;

Life Died(double exit) {
  return {.exit = exit, .ending = Ending::kDied};
}
Life Alive(double exit) {
  return {.exit = exit};
}

// Ages from few numbers, so that deaths, departures and entries meet; some lives carry nothing.
rc::Gen<std::vector<Life>> AnyLives() {
  return rc::gen::container<std::vector<Life>>(rc::gen::exec([] {
    return Life{.entry = *rc::gen::element<double>(0, 0, 0, 2, 5),
                .exit = *rc::gen::inRange(0, 9) * 1.0,
                .ending = *rc::gen::element(Ending::kStillAlive, Ending::kDied)};
  }));
}

// The definition, by going through all lives for each age.
double NaiveAliveAt(const std::vector<Life>& lives, double age) {
  std::set<double> ages;
  for (const Life& life : lives) ages.insert(life.exit);
  double alive = 1;
  for (const double at : ages) {
    if (at > age) break;
    const auto at_risk = std::ranges::count_if(
        lives, [&](const Life& life) { return life.entry < at && at <= life.exit; });
    const auto deaths = std::ranges::count_if(lives, [&](const Life& life) {
      return life.entry < at && life.exit == at && life.ending == Ending::kDied;
    });
    if (deaths > 0) alive *= static_cast<double>(at_risk - deaths) / static_cast<double>(at_risk);
  }
  return alive;
}

RC_GTEST_PROP(KaplanMeier, IsWhatTheDefinitionSays, ()) {
  const auto lives = *AnyLives();
  const Curve curve = FitKaplanMeier(lives);
  for (const double age : {-1.0, 0.0, 0.5, 1.0, 2.0, 3.5, 5.0, 8.0, 9.0}) {
    RC_ASSERT(std::abs(curve.AliveAt(age) - NaiveAliveAt(lives, age)) < 1e-12);
  }
}

RC_GTEST_PROP(KaplanMeier, NeverRisesAndStaysWithinItsInterval, ()) {
  const Curve curve = FitKaplanMeier(*AnyLives());
  double before = 1;
  std::uint32_t deaths = 0;
  for (const Point& point : curve.points) {
    RC_ASSERT(point.deaths > 0U);
    RC_ASSERT(point.deaths <= point.at_risk);
    RC_ASSERT(point.alive <= before);
    RC_ASSERT(point.lower <= point.alive && point.alive <= point.upper);
    RC_ASSERT(point.lower >= 0 && point.upper <= 1 && point.std_error >= 0);
    before = point.alive;
    deaths += point.deaths;
  }
  RC_ASSERT(deaths == curve.deaths);
  RC_ASSERT(curve.deaths <= curve.lives);
}

RC_GTEST_PROP(KaplanMeier, DoesNotDependOnTheOrderOfTheLives, ()) {
  auto lives = *AnyLives();
  const Curve before = FitKaplanMeier(lives);
  std::ranges::shuffle(lives, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  const Curve after = FitKaplanMeier(lives);
  RC_ASSERT(before.points.size() == after.points.size());
  for (const Point& point : before.points) {
    RC_ASSERT(before.AliveAt(point.age) == after.AliveAt(point.age));
  }
}

RC_GTEST_PROP(MedianLeft, IsAfterTheAgeAndWhereTheShareIsHalved, ()) {
  const Curve curve = FitKaplanMeier(*AnyLives());
  const double age = *rc::gen::inRange(0, 10);
  const auto left = MedianLeft(curve, age);
  const double half = curve.AliveAt(age) / 2;
  if (left) {
    RC_ASSERT(*left > 0);
    RC_ASSERT(half > 0);
    RC_ASSERT(curve.AliveAt(age + *left) <= half + 1e-9);
  } else {
    const double at_the_end = curve.points.empty() ? 1 : curve.points.back().alive;
    RC_ASSERT((half == 0 || at_the_end > half));
  }
}

TEST(KaplanMeier, OfNobodyHasNoPoints) {
  const Curve curve = FitKaplanMeier({});
  EXPECT_THAT(curve.points, IsEmpty());
  EXPECT_EQ(curve.lives, 0U);
  EXPECT_EQ(curve.AliveAt(100), 1);
  EXPECT_EQ(MedianLeft(curve, 0), std::nullopt);
}

TEST(KaplanMeier, LeavesOutLivesThatCarryNothing) {
  const Curve curve =
      FitKaplanMeier(std::vector<Life>{{.entry = 5, .exit = 5, .ending = Ending::kDied},
                                       {.entry = 9, .exit = 5, .ending = Ending::kDied},
                                       {.entry = 0, .exit = std::nan(""), .ending = Ending::kDied},
                                       Died(7)});
  EXPECT_EQ(curve.lives, 1U);
  EXPECT_THAT(curve.points, SizeIs(1));
}

TEST(KaplanMeier, CountsOneThatLeavesAtADeathAsStillAtRiskOfIt) {
  const Curve curve = FitKaplanMeier(std::vector<Life>{Died(10), Alive(10), Alive(9)});
  ASSERT_THAT(curve.points, SizeIs(1));
  EXPECT_EQ(curve.points[0].at_risk, 2U);
}

TEST(KaplanMeier, CountsOneThatEntersAtADeathAsNotYetAtRisk) {
  const std::vector<Life> lives{Died(10), {.entry = 10, .exit = 12}, {.entry = 9, .exit = 12}};
  const Curve curve = FitKaplanMeier(lives);
  ASSERT_THAT(curve.points, SizeIs(1));
  EXPECT_EQ(curve.points[0].at_risk, 2U);
}

TEST(KaplanMeier, SaysNothingAboutAnIntervalOnceNoneIsAlive) {
  const std::vector<Life> lives{
      Died(3), {.entry = 4, .exit = 6, .ending = Ending::kDied}, {.entry = 4, .exit = 8}};
  const Curve curve = FitKaplanMeier(lives);
  ASSERT_THAT(curve.points, SizeIs(2));
  for (const Point& point : curve.points) {
    EXPECT_EQ(point.alive, 0);
    EXPECT_EQ(point.std_error, 0);
    EXPECT_EQ(point.lower, 0);
    EXPECT_EQ(point.upper, 1);
  }
}

TEST(MedianLeft, IsMeasuredFromTheAgeReached) {
  const Curve curve =
      FitKaplanMeier(std::vector<Life>{Died(10), Died(20), Died(30), Died(40), Died(50)});
  EXPECT_THAT(MedianLeft(curve, 0), Optional(DoubleEq(30)));
  // Alive at 25: 3 of 5. Half of them are gone at 40.
  EXPECT_THAT(MedianLeft(curve, 25), Optional(DoubleEq(15)));
  EXPECT_THAT(MedianLeft(curve, 45), Optional(DoubleEq(5)));
}

// Source: the rule for medians of R's survival package, as stated in tests/published.
TEST(MedianLeft, IsTheMiddleOfAWhileAtExactlyAHalf) {
  const Curve curve = FitKaplanMeier(std::vector<Life>{Died(10), Died(20), Died(30), Died(40)});
  EXPECT_THAT(MedianLeft(curve, 0), Optional(DoubleEq(25)));
  // 0.5 that came about as (6/7) * (5/6) * ... is a half too.
  const Curve rounded = FitKaplanMeier(
      std::vector<Life>{Died(1), Died(2), Died(3), Died(4), Died(5), Died(6), Died(7), Died(8),
                        Died(9), Died(10), Died(11), Died(12), Died(13), Died(14)});
  EXPECT_THAT(MedianLeft(rounded, 0), Optional(DoubleEq(7.5)));
}

TEST(MedianLeft, EndsAtTheDeathWhereNoOtherFollows) {
  const Curve curve = FitKaplanMeier(std::vector<Life>{Died(10), Alive(50)});
  EXPECT_THAT(MedianLeft(curve, 0), Optional(DoubleEq(10)));
}

TEST(MedianLeft, IsNotThereWhereTheCurveDoesNotComeDownSoFar) {
  const Curve curve = FitKaplanMeier(std::vector<Life>{Died(10), Alive(50), Alive(50)});
  EXPECT_EQ(MedianLeft(curve, 0), std::nullopt);
}

TEST(MedianLeft, IsNotThereForAnAgeToWhichNoneWasSeen) {
  const Curve died = FitKaplanMeier(std::vector<Life>{Died(10), Died(20)});
  EXPECT_EQ(MedianLeft(died, 20), std::nullopt);
  const Curve lost = FitKaplanMeier(std::vector<Life>{Died(10), Alive(20)});
  EXPECT_EQ(MedianLeft(lost, 30), std::nullopt);
}

// The later points are those of the curve of the lives that came to the age, as if they had only
// then come under observation.
RC_GTEST_PROP(CurveFrom, IsTheCurveOfTheLivesThatCameToTheAge, ()) {
  const auto lives = *AnyLives();
  const double age = *rc::gen::inRange(0, 9);
  std::vector<Life> rest;
  for (Life life : lives) {
    life.entry = std::max(life.entry, age);
    if (life.exit > life.entry) rest.push_back(life);
  }
  const Curve whole = FitKaplanMeier(lives);
  if (whole.AliveAt(age) <= 0) return;  // all died: what came after is a new beginning
  const Curve ours = CurveFrom(whole, age);
  const Curve expected = FitKaplanMeier(rest);
  RC_ASSERT(ours.points.size() == expected.points.size());
  RC_ASSERT(ours.deaths == expected.deaths);
  for (std::size_t i = 0; i < ours.points.size(); ++i) {
    RC_ASSERT(std::abs(ours.points[i].alive - expected.points[i].alive) < 1e-9);
    RC_ASSERT(std::abs(ours.points[i].std_error - expected.points[i].std_error) < 1e-9);
    RC_ASSERT(std::abs(ours.points[i].lower - expected.points[i].lower) < 1e-6);
    RC_ASSERT(std::abs(ours.points[i].hazard_std_error - expected.points[i].hazard_std_error) <
              1e-6);
  }
}

RC_GTEST_PROP(TimeLeft, LiesWithinItsInterval, ()) {
  const Curve curve = FitKaplanMeier(*AnyLives());
  const Estimate left = TimeLeft(curve, *rc::gen::inRange(0, 10));
  if (left.lower && left.days) RC_ASSERT(*left.lower <= *left.days);
  if (left.upper && left.days) RC_ASSERT(*left.days <= *left.upper);
  if (left.upper) RC_ASSERT(left.days.has_value());
}

TEST(TimeLeft, LiesWithinItsIntervalWhereManyEnterAfterTheMedian) {
  std::vector<Life> lives = {Died(2), Died(2), Alive(9)};
  for (int i = 0; i < 100; ++i) {
    lives.push_back({.entry = 2,
                     .exit = i < 30 ? 3.0 : 9.0,
                     .ending = i < 30 ? Ending::kDied : Ending::kStillAlive});
  }
  const Curve curve = FitKaplanMeier(lives);
  // The lower edge rises after the median, so that its own quantile lies past it.
  ASSERT_THAT(QuantileOf(curve, 0.5, Scale::kLogLog).lower, Optional(DoubleEq(3)));
  EXPECT_THAT(TimeLeft(curve, 0).lower, Optional(DoubleEq(2)));
  EXPECT_THAT(TimeLeft(curve, 0).days, Optional(DoubleEq(2)));
}

TEST(TimeLeft, NarrowsAsThereAreMoreLives) {
  std::vector<Life> lives;
  for (int round = 0; round < 2; ++round) {
    for (int i = 1; i <= 20; ++i) lives.push_back(Died(10.0 * i));
  }
  const Estimate of_many = TimeLeft(FitKaplanMeier(lives), 45);
  lives.resize(20);
  const Estimate of_few = TimeLeft(FitKaplanMeier(lives), 45);
  ASSERT_TRUE(of_many.lower && of_many.upper && of_few.lower && of_few.upper);
  EXPECT_EQ(of_many.days, of_few.days);
  EXPECT_LE(*of_many.upper - *of_many.lower, *of_few.upper - *of_few.lower);
}

TEST(TimeLeft, OfOneLifeHasNoUpperEnd) {
  const Estimate left = TimeLeft(FitKaplanMeier(std::vector<Life>{Died(10)}), 0);
  EXPECT_EQ(left.upper, std::nullopt);
}

TEST(ChanceOfLasting, IsTheShareOfThoseWhoCameToTheAge) {
  const Curve curve =
      FitKaplanMeier(std::vector<Life>{Died(10), Died(20), Died(30), Died(40), Alive(50)});
  const std::optional<Chance> chance = ChanceOfLasting(curve, 15, 10);
  ASSERT_TRUE(chance);
  EXPECT_DOUBLE_EQ(chance->share, 0.75);
  EXPECT_LT(chance->lower, 0.75);
  EXPECT_GT(chance->upper, 0.75);
}

TEST(ChanceOfLasting, SaysNothingPastTheLastLifeThatWasWatched) {
  const Curve curve = FitKaplanMeier(std::vector<Life>{Died(10), Alive(50)});
  EXPECT_EQ(ChanceOfLasting(curve, 20, 31), std::nullopt);
  EXPECT_EQ(ChanceOfLasting(curve, 60, 0), std::nullopt);
  // Nobody died in between: no interval is claimed.
  EXPECT_EQ(ChanceOfLasting(curve, 20, 30)->lower, 0);
}

}  // namespace
}  // namespace broodpact::survival
