// Goal: what is said of a male comes from the nearest evidence that says something, and names it.
// Method: one example a level, the shipped table against the trade's figures, and bad tables.

#include "client/survival/outlook.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact::survival {
namespace {

using ::testing::HasSubstr;

constexpr double kMonthDays = 30.436875;

Curve CurveOf(int lives, int days_each, Ending ending) {
  std::vector<Life> all;
  for (int i = 1; i <= lives; ++i) {
    all.push_back({.exit = static_cast<double>(days_each * i), .ending = ending});
  }
  return FitKaplanMeier(all);
}

Evidence AllLevels() {
  return {.group = CurveOf(9, 10, Ending::kDied),
          .genus = CurveOf(19, 10, Ending::kDied),
          .prior = Expectations::Shipped().Of(Expected::kMaleLife, "Poecilotheria regalis")};
}

TEST(Outlook, ComesFromTheGroupWhereItSuffices) {
  const Evidence evidence = AllLevels();
  const auto outlook = OutlookAt(evidence, 0);
  ASSERT_TRUE(outlook);
  EXPECT_EQ(outlook->level, Level::kGroup);
  EXPECT_EQ(outlook->left.days, 50);
  EXPECT_EQ(BasisOf(evidence, *outlook), "9 lives, 9 ended");
}

TEST(Outlook, ComesFromTheGenusWhereTheGroupIsTooFewOrTooYoung) {
  Evidence evidence = AllLevels();
  // No one of the group came to this age.
  EXPECT_EQ(OutlookAt(evidence, 95)->level, Level::kGenus);
  evidence.group = CurveOf(4, 10, Ending::kDied);
  const auto outlook = OutlookAt(evidence, 0);
  ASSERT_TRUE(outlook);
  EXPECT_EQ(outlook->left.days, 100);
  EXPECT_EQ(BasisOf(evidence, *outlook), "genus: 19 lives, 19 ended");
}

TEST(Outlook, ComesFromThePriorNamedAsSuchWhereAllAreStillAlive) {
  Evidence evidence = AllLevels();
  evidence.group = CurveOf(9, 10, Ending::kStillAlive);
  evidence.genus = evidence.group;
  const auto outlook = OutlookAt(evidence, 100);
  ASSERT_TRUE(outlook);
  EXPECT_EQ(outlook->level, Level::kPrior);
  EXPECT_EQ(outlook->lives, 0U);
  EXPECT_NEAR(*outlook->left.lower, 4 * kMonthDays - 100, 1e-9);
  EXPECT_NEAR(*outlook->left.upper, 14 * kMonthDays - 100, 1e-9);
  EXPECT_EQ(BasisOf(evidence, *outlook), "prior, from memory");
}

TEST(Outlook, OfAPriorEndsWithItsRange) {
  const Evidence evidence{.prior = Prior{.low = 100, .high = 200}};
  EXPECT_EQ(OutlookAt(evidence, 250)->left.days, 0);
  EXPECT_EQ(ChanceOfLasting(evidence, 0, 150), 0.5);
  EXPECT_EQ(ChanceOfLasting(evidence, 0, 50), 1);
  EXPECT_EQ(ChanceOfLasting(evidence, 150, 60), 0);
  EXPECT_EQ(ChanceOfLasting(evidence, 250, 0), 0);
}

TEST(Outlook, SaysNothingWhereNothingIsKnown) {
  EXPECT_EQ(OutlookAt({}, 0), std::nullopt);
  EXPECT_EQ(ChanceOfLasting(Evidence{}, 0, 10), std::nullopt);
  const Evidence one_life{.group = CurveOf(1, 10, Ending::kDied)};
  EXPECT_EQ(OutlookAt(one_life, 0), std::nullopt);
}

// «common practice, no source»: the ranges are the trade's own guesses, kept with their sources.
TEST(Expectations, ShipTheTradesRangesWithTheirSources) {
  const Expectations& table = Expectations::Shipped();
  const auto genus = table.Of(Expected::kMaleLife, "Brachypelma hamorii");
  ASSERT_TRUE(genus);
  EXPECT_EQ(genus->taxon, "Brachypelma");
  EXPECT_NEAR(genus->low, 6 * kMonthDays, 1e-9);
  EXPECT_NEAR(genus->high, 18 * kMonthDays, 1e-9);
  EXPECT_EQ(genus->trust, Trust::kFromMemory);

  const auto species = table.Of(Expected::kMaleLife, "Aphonopelma hentzi");
  ASSERT_TRUE(species);
  EXPECT_NEAR(species->high, 12 * kMonthDays, 1e-9);
  EXPECT_THAT(species->sources, HasSubstr("; "));

  const auto other = table.Of(Expected::kMaleLife, "Exemplum fictum");
  ASSERT_TRUE(other);
  EXPECT_EQ(other->taxon, "*");
  EXPECT_NEAR(other->low, 6 * kMonthDays, 1e-9);
  EXPECT_NEAR(other->high, 24 * kMonthDays, 1e-9);

  const auto sac = table.Of(Expected::kViableSac, "Exemplum fictum");
  ASSERT_TRUE(sac);
  EXPECT_DOUBLE_EQ(sac->low, 0.5);
  EXPECT_DOUBLE_EQ(sac->high, 0.7);
}

TEST(Expectations, AreReadFromAKeepersOwnTable) {
  const auto table =
      Expectations::Parse("# mine\n\nmale_life\tExemplum\t10\t20\tweeks\tpractice\tmy notes\r\n");
  ASSERT_TRUE(table.ok()) << table.status();
  EXPECT_EQ(table->Of(Expected::kMaleLife, "Exemplum alter"), (Prior{.low = 70,
                                                                     .high = 140,
                                                                     .trust = Trust::kPractice,
                                                                     .taxon = "Exemplum",
                                                                     .sources = "my notes"}));
  EXPECT_EQ(table->Of(Expected::kLaying, "Exemplum alter"), std::nullopt);
}

TEST(Expectations, RefuseATableByItsLine) {
  const std::vector<std::string> bad{
      "male_life\tX\t1\t2\tdays\tpractice",                 // six columns
      "male_lives\tX\t1\t2\tdays\tpractice\tsource",        // not a thing to expect
      "male_life\tX\t3\t2\tdays\tpractice\tsource",         // backwards
      "male_life\tX\tnan\t2\tdays\tpractice\tsource",       //
      "male_life\tX\t1\t2\tpercent\tpractice\tsource",      // not a time
      "viable_sac\t*\t1\t2\tdays\tpractice\tsource",        // not a share
      "viable_sac\t*\t90\t120\tpercent\tpractice\tsource",  // more than all
      "male_life\tX\t1\t2\tdays\tcertain\tsource",          //
      "male_life\tX\t1\t2\tdays\tpractice\t",               // from nowhere
      "male_life\t\t1\t2\tdays\tpractice\tsource"};
  for (const std::string& line : bad) {
    const auto table = Expectations::Parse("# head\n" + line);
    ASSERT_FALSE(table.ok()) << line;
    EXPECT_EQ(ReasonOf(table.status()), "EXPECTATIONS_FORM");
    EXPECT_THAT(std::string(table.status().message()), HasSubstr("line 2")) << line;
  }
}

}  // namespace
}  // namespace broodpact::survival
