// Goal: what is expected of males rests on lives that were seen, else on a prior that is named, and
// on nothing else. Method: curves that can be told by hand.

#include "client/replica/internal/projection.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace broodpact::replica {
namespace {

using ::testing::DoubleEq;
using ::testing::ElementsAre;

// Of five males one dies at each of 100, 200, 300, 400 and 500 days.
survival::Curve Fifths() {
  std::vector<survival::Life> lives;
  for (const double age : {100, 200, 300, 400, 500}) {
    lives.push_back({.exit = age, .ending = survival::Ending::kDied});
  }
  return survival::FitKaplanMeier(lives);
}

TEST(Projection, AddsUpChancesThatHaveNothingToDoWithEachOther) {
  const std::vector<double> chances{0.75, 0.5};
  const Expected expected = ExpectedAlive(chances);
  EXPECT_DOUBLE_EQ(expected.males, 1.25);
  EXPECT_DOUBLE_EQ(expected.none, 0.25 * 0.5);
  EXPECT_EQ(expected.lower, 0U);
  EXPECT_EQ(expected.upper, 2U);
}

TEST(Projection, OfNobodyIsNobody) {
  const Expected expected = ExpectedAlive({});
  EXPECT_EQ(expected.males, 0);
  EXPECT_EQ(expected.upper, 0U);
  EXPECT_EQ(expected.none, 1);
}

TEST(Projection, GivesEachMaleTheChanceOfHisAgeByTheCurveOfTheGroup) {
  const std::vector<double> ages{0, 250};
  MalesAhead males({.group = Fifths()}, ages);
  // Of five, four are alive at 120 days; of three at 250 days two are alive at 370.
  EXPECT_THAT(males.ChancesIn(120), ElementsAre(DoubleEq(0.8), DoubleEq(2.0 / 3)));
  EXPECT_EQ(males.Basis(), "group: 5 lives, 5 ended");
}

TEST(Projection, GoesByTheGenusWhereTheGroupSaysNothing) {
  const std::vector<double> ages{0};
  MalesAhead males({.genus = Fifths()}, ages);
  EXPECT_THAT(males.ChancesIn(120), ElementsAre(DoubleEq(0.8)));
  EXPECT_EQ(males.Basis(), "genus: 5 lives, 5 ended");
}

TEST(Projection, GoesByThePriorBeyondWhatWasWatchedAndNeverRises) {
  const survival::Prior prior{.low = 400,
                              .high = 600,
                              .trust = survival::Trust::kFromMemory,
                              .taxon = "*",
                              .sources = "a book"};
  const std::vector<double> ages{450};
  MalesAhead males({.group = Fifths(), .prior = prior}, ages);
  EXPECT_THAT(males.ChancesIn(10), ElementsAre(1.0));  // one was watched to 500 days
  // Past 500 days the prior: of 450 days at most 150 more, each day as likely as the other.
  EXPECT_THAT(males.ChancesIn(75), ElementsAre(DoubleEq(0.5)));
  EXPECT_THAT(males.ChancesIn(151), ElementsAre(0.0));
  EXPECT_EQ(males.Basis(),
            "group: 5 lives, 5 ended; beyond that prior, from memory: 400 to 600 days (a book)");
}

TEST(Projection, GivesNoTimeToOneOfWhomNothingIsKnown) {
  const std::vector<double> ages{501};
  MalesAhead males({.group = Fifths()}, ages);
  EXPECT_THAT(males.ChancesIn(1), ElementsAre(0.0));
  EXPECT_EQ(males.Basis(), "");
}

}  // namespace
}  // namespace broodpact::replica
