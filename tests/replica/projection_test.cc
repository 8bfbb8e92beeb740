// Goal: what is expected of males rests on lives that were seen, and on nothing else. Method:
// curves that can be told by hand.

#include "client/replica/internal/projection.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace broodpact::replica {
namespace {

// Of four males one dies at each of 100, 200, 300 and 400 days.
survival::Curve Quarters() {
  std::vector<survival::Life> lives;
  for (const double age : {100, 200, 300, 400}) {
    lives.push_back({.exit = age, .ending = survival::Ending::kDied});
  }
  return survival::FitKaplanMeier(lives);
}

TEST(Projection, GivesEachMaleTheChanceOfHisAge) {
  const std::vector<double> ages{0, 250};
  const Expected expected = ExpectedAlive(Quarters(), ages, 120);
  EXPECT_DOUBLE_EQ(expected.males, 0.75 + 0.5);  // one at 370 days is the last of two
  EXPECT_DOUBLE_EQ(expected.none, 0.25 * 0.5);
  EXPECT_EQ(expected.lower, 0U);
  EXPECT_EQ(expected.upper, 2U);
}

TEST(Projection, GivesNoTimeToOneWhoIsOlderThanTheCurve) {
  const std::vector<double> ages{500};
  const Expected expected = ExpectedAlive(Quarters(), ages, 1);
  EXPECT_EQ(expected.males, 0);
  EXPECT_EQ(expected.none, 1);
}

TEST(Projection, OfNobodyIsNobody) {
  const Expected expected = ExpectedAlive(Quarters(), {}, 30);
  EXPECT_EQ(expected.males, 0);
  EXPECT_EQ(expected.upper, 0U);
  EXPECT_EQ(expected.none, 1);
}

TEST(Projection, WatchesAMaleFromHisEntryOn) {
  PopulationMember late;
  late.animal.sex = facts::Sex::kMale;
  late.animal.entry.time_ms = std::int64_t{20'000} * 86'400'000;
  late.mature_since = Day{19'900};
  late.until = Day{20'050};
  const survival::Curve curve = CurveOfMales({late}, Day{20'100});
  ASSERT_EQ(curve.points.size(), 1U);
  EXPECT_EQ(curve.points[0].age, 150);
  EXPECT_EQ(curve.deaths, 1U);
  late.until = Day{19'990};  // dead before he was entered: nothing was watched
  EXPECT_EQ(CurveOfMales({late}, Day{20'100}).lives, 0U);
}

}  // namespace
}  // namespace broodpact::replica
