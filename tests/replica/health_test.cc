// Goal: a group is shown as the population that it is, and what the numbers rest on is said.
// Method: a small cooperative whose numbers can be told by hand; its today is 2026-11-25.

#include "client/replica/health.h"

#include <fmt/format.h>
#include <gmock/gmock.h>

#include "client/base/status.h"
#include "tests/replica/testing/brood.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using testing::Brood;
using ::testing::Contains;
using testing::DayOn;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::On;
using ::testing::SizeIs;

class Health : public ::testing::Test {
 protected:
  // Founded so many days before the today of the tests.
  explicit Health(int days_before = 0) {
    society_.clock().AdvanceDays(-days_before);
    society_.Found("mira", "CZ");
    society_.Enter("tomas", "DE");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
  }

  AnimalId Add(const std::string& keeper, facts::AnimalEntry entry) {
    entry.group = group_;
    return AddAnimal(society_, keeper, std::move(entry));
  }

  v1::GroupHealth Shown() {
    const auto health = HealthOf(society_.ViewOf("mira"), group_, DayOn("2026-11-25"));
    EXPECT_TRUE(health.ok()) << health.status();
    return health.ok() ? *health : v1::GroupHealth{};
  }

  static std::uint32_t Living(const v1::GroupHealth& health, const std::string& sex,
                              const std::string& stage) {
    for (const v1::StageCount& row : health.living()) {
      if (row.sex() == sex && row.stage() == stage) return row.animals();
    }
    return 0;
  }

  testing::Society society_;
  GroupId group_;
};

TEST_F(Health, OfAnEmptyGroupSaysThatNobodyLivesAndInventsNothing) {
  const v1::GroupHealth health = Shown();
  EXPECT_EQ(health.group().name(), "hamorii-colima");
  EXPECT_EQ(health.animals(), 0U);
  EXPECT_THAT(health.living(), IsEmpty());
  EXPECT_THAT(health.years(), IsEmpty());
  EXPECT_EQ(health.gene_diversity(), 0);
}

TEST_F(Health, CountsTheLivingBySexAndStageAndWithWhom) {
  Add("mira",
      {.name = "rosa", .sex = facts::Sex::kFemale, .hatching = On("2018"), .maturity = On("2024")});
  Add("mira", {.name = "young", .hatching = On("2025")});
  Add("tomas", {.name = "bruno", .sex = facts::Sex::kMale, .maturity = On("2026-10-01")});
  const AnimalId old =
      Add("tomas", {.name = "old", .sex = facts::Sex::kMale, .maturity = On("2025-03-01")});
  ASSERT_TRUE(
      society_.At("tomas").Act({facts::Death{.animal = old, .day = On("2026-05-20")}}).ok());
  society_.Deliver();
  const v1::GroupHealth health = Shown();
  EXPECT_EQ(health.animals(), 3U);
  EXPECT_EQ(health.keepers_size(), 2);
  EXPECT_EQ(Living(health, "female", "mature"), 1U);
  EXPECT_EQ(Living(health, "male", "mature"), 1U);
  EXPECT_EQ(Living(health, "unknown", "not said"), 1U);
  EXPECT_EQ(health.effective_size(), 2);  // 4 * 1 * 1 / 2

  // Mature males month by month: old to May 2026, nobody to September, bruno from October on.
  ASSERT_THAT(health.months(), SizeIs(24));
  EXPECT_EQ(health.months(23).month(), "2026-11");
  EXPECT_EQ(health.months(23).males(), 1U);
  EXPECT_EQ(health.months(21).males(), 0U);
  EXPECT_EQ(health.months(17).month(), "2026-05");
  EXPECT_EQ(health.months(17).males(), 1U);
  EXPECT_EQ(health.months(17).females(), 1U);
  EXPECT_EQ(health.months(0).month(), "2024-12");
}

TEST_F(Health, TellsFoundersDiversityAndItsCourse) {
  const AnimalId sire = Add("mira", {.name = "bruno",
                                     .sex = facts::Sex::kMale,
                                     .hatching = On("2022"),
                                     .maturity = On("2024-06-01")});
  const AnimalId dam =
      Add("mira", {.name = "rosa", .sex = facts::Sex::kFemale, .hatching = On("2018")});
  for (const char* name : {"first", "second"}) {
    Add("mira", {.name = name, .hatching = On("2025-02-01"), .sire = sire, .dam = dam});
  }
  society_.Deliver();
  const v1::GroupHealth health = Shown();
  // Kinships of four: 4 selves of 1/2, parents with offspring 1/4 four times, sibs 1/4.
  const double mean = (4 * 0.5 + 2 * (4 * 0.25 + 0.25)) / 16;
  EXPECT_NEAR(health.mean_kinship(), mean, 1e-12);
  EXPECT_NEAR(health.gene_diversity(), 1 - mean, 1e-12);
  EXPECT_NEAR(health.genome_equivalents(), 1 / (2 * mean), 1e-12);
  ASSERT_THAT(health.founders(), SizeIs(2));
  EXPECT_NEAR(health.founders(0).part(), 0.5, 1e-12);
  EXPECT_NEAR(health.founder_equivalents(), 2, 1e-12);
  ASSERT_THAT(health.years(), SizeIs(9));  // rosa alone from 2018 on
  EXPECT_EQ(health.years(0).year(), 2018U);
  EXPECT_EQ(health.years(0).gene_diversity(), 0.5);
  EXPECT_EQ(health.years(6).animals(), 2U);  // 2024
  EXPECT_EQ(health.years(6).gene_diversity(), 0.75);
  EXPECT_EQ(health.years(8).year(), 2026U);
  EXPECT_NEAR(health.years(8).gene_diversity(), 1 - mean, 1e-12);
}

TEST_F(Health, CountsAFemaleAsMatureFromHerFirstPairingOrSac) {
  const AnimalId sire =
      Add("mira", {.name = "bruno", .sex = facts::Sex::kMale, .maturity = On("2026-06-01")});
  const AnimalId dam = Add("mira", {.name = "rosa", .sex = facts::Sex::kFemale});
  EXPECT_THAT(Shown().remarks(), Contains(HasSubstr("never stated mature")));
  Brood brood(society_, "mira", dam);
  brood.Pair(sire, "2026-08-05");
  const v1::GroupHealth health = Shown();
  EXPECT_EQ(health.months(20).month(), "2026-08");
  EXPECT_EQ(health.months(20).females(), 1U);
  EXPECT_EQ(health.months(19).females(), 0U);
}

TEST_F(Health, TakesAClutchOfSeveralPossibleSiresByTheirChances) {
  const AnimalId sire =
      Add("mira", {.name = "bruno", .sex = facts::Sex::kMale, .maturity = On("2026-06-01")});
  const AnimalId other =
      Add("mira", {.name = "karel", .sex = facts::Sex::kMale, .maturity = On("2026-06-01")});
  const AnimalId dam = Add("mira", {.name = "rosa", .sex = facts::Sex::kFemale});
  Brood brood(society_, "mira", dam);
  brood.Pair(sire, "2026-08-05");
  brood.Pair(other, "2026-08-06");
  brood.Hatch(500, "2026-09-01", "2026-10-20");
  brood.Raise("first", "2026-11-20");
  for (const AnimalId& parent : {sire, other, dam}) {
    ASSERT_TRUE(
        society_.At("mira").Act({facts::Death{.animal = parent, .day = On("2026-11-21")}}).ok());
  }
  const v1::GroupHealth health = Shown();
  ASSERT_THAT(health.founders(), SizeIs(3));
  EXPECT_EQ(health.founders(0).animal().name(), "rosa");
  EXPECT_EQ(health.founders(0).part(), 0.5);
  EXPECT_EQ(health.founders(1).part(), 0.25);
  EXPECT_EQ(health.unknown_part(), 0);
  EXPECT_THAT(health.remarks(), Contains(HasSubstr("1 clutches may have several sires")));
}

TEST_F(Health, NamesWhatCannotBe) {
  const AnimalId dam =
      Add("mira", {.name = "rosa", .sex = facts::Sex::kFemale, .hatching = On("2024-05-01")});
  Add("mira", {.name = "first", .hatching = On("2022-01"), .dam = dam});
  EXPECT_THAT(Shown().remarks(),
              Contains(HasSubstr("rosa hatched 2024-05-01, after its offspring first, 2022-01")));
}

// The cooperative knows no lives yet: the months ahead rest on the trade's table, and say so.
TEST_F(Health, LooksAheadByThePriorWhereNoLivesAreKnown) {
  Add("mira", {.name = "bruno", .sex = facts::Sex::kMale, .maturity = On("2026-11-01")});
  const v1::GroupHealth health = Shown();
  ASSERT_THAT(health.projection(), SizeIs(24));
  EXPECT_EQ(health.projection(0).month(), "2026-12");
  EXPECT_EQ(health.projection(0).males(), 1);  // six months at least, by the table
  EXPECT_EQ(health.projection(23).males(), 0);
  EXPECT_EQ(health.projection(23).gap_chance(), 1);
  EXPECT_THAT(health.remarks(), Contains(HasSubstr("months ahead rest on prior, from memory")));
  EXPECT_EQ(health.male_life().source(), "prior, from memory");
  EXPECT_EQ(health.male_life().lives(), 0U);
  // A table without any line: nothing is known, and nothing is shown.
  const survival::Expectations empty;
  const auto without = HealthOf(society_.ViewOf("mira"), group_, DayOn("2026-11-25"), &empty);
  ASSERT_TRUE(without.ok()) << without.status();
  EXPECT_THAT(without->projection(), IsEmpty());
  EXPECT_FALSE(without->has_male_life());
  EXPECT_THAT(without->remarks(), Contains(HasSubstr("nothing says how long males")));
  EXPECT_THAT(without->remarks(),
              Contains("how long males live is not known: lives watched in this group 0, ended 0; "
                       "in its genus 0, ended 0; and there is no prior"));
}

TEST_F(Health, TellsWhatCameOfPairingsAndOfSacs) {
  const AnimalId sire =
      Add("mira", {.name = "bruno", .sex = facts::Sex::kMale, .maturity = On("2026-01-01")});
  for (std::uint8_t i = 0; i < 6; ++i) {
    const AnimalId dam = Add("mira", {.name = fmt::format("f-{}", i), .sex = facts::Sex::kFemale});
    Brood brood(society_, "mira", dam);
    brood.Pair(sire, "2026-03-01");
    if (i < 3) brood.Hatch(100, "2026-06-01", "2026-08-01");
    if (i == 3) {
      ASSERT_TRUE(
          society_.At("mira").Act({facts::Moult{.animal = dam, .day = On("2026-07-01")}}).ok());
    }
  }
  const v1::GroupHealth health = Shown();
  const v1::Outcomes& pairings = health.pairing_outcomes();
  EXPECT_EQ(pairings.source(), "group");
  EXPECT_EQ(pairings.cases(), 6U);
  EXPECT_EQ(pairings.ended(), 4U);
  ASSERT_THAT(pairings.shares(), SizeIs(4));
  EXPECT_EQ(pairings.shares(0).outcome(), "sac");
  EXPECT_EQ(pairings.shares(0).cases(), 3U);
  EXPECT_DOUBLE_EQ(pairings.shares(0).share(), 0.5);
  EXPECT_EQ(pairings.shares(1).outcome(), "moult");
  EXPECT_NEAR(pairings.shares(1).share(), 1.0 / 6, 1e-12);
  EXPECT_EQ(pairings.shares(2).cases(), 0U);
  EXPECT_EQ(pairings.shares(2).lower(), -1) << "nothing is known of what never happened";
  EXPECT_EQ(pairings.shares(3).outcome(), "none yet");
  EXPECT_NEAR(pairings.shares(3).share(), 1.0 / 3, 1e-12);
  EXPECT_EQ(health.sac_outcomes().shares(0).cases(), 3U);
}

// Aalen & Johansen's estimate has no censoring before the end here, so it is the plain share.
TEST_F(Health, FollowsPulledSacsOnWithoutTheirMothers) {
  for (std::uint8_t i = 0; i < 4; ++i) {
    const AnimalId dam = Add("mira", {.name = fmt::format("f-{}", i), .sex = facts::Sex::kFemale});
    Brood brood(society_, "mira", dam);
    brood.Lay("2026-06-01");
    if (i > 0) brood.Pull("2026-06-25");
    if (i == 0) brood.Lose("2026-06-20", "eaten by the female");
    if (i == 1) brood.CountOut(80, "2026-08-01");
    if (i == 2) brood.Lose("2026-07-20", "infertile");
  }
  const v1::GroupHealth health = Shown();
  const v1::Outcomes& with_mother = health.sac_outcomes();
  ASSERT_THAT(with_mother.shares(), SizeIs(6));
  EXPECT_EQ(with_mother.shares(1).outcome(), "eaten");
  EXPECT_DOUBLE_EQ(with_mother.shares(1).share(), 0.25);
  EXPECT_EQ(with_mother.shares(4).outcome(), "pulled");
  EXPECT_EQ(with_mother.shares(4).cases(), 3U);
  EXPECT_DOUBLE_EQ(with_mother.shares(4).share(), 0.75);
  const v1::Outcomes& pulled = health.pulled_sac_outcomes();
  EXPECT_EQ(pulled.cases(), 3U);
  ASSERT_THAT(pulled.shares(), SizeIs(5));
  EXPECT_EQ(pulled.shares(0).outcome(), "hatched");
  EXPECT_EQ(pulled.shares(0).cases(), 1U);
  EXPECT_NEAR(pulled.shares(0).share(), 1.0 / 3, 1e-12);
  EXPECT_EQ(pulled.shares(4).outcome(), "none yet");
}

TEST_F(Health, TakesADayOfPullingAfterTheCountForNone) {
  const AnimalId dam = Add("mira", {.name = "rosa", .sex = facts::Sex::kFemale});
  Brood brood(society_, "mira", dam);
  brood.Lay("2026-06-01");
  brood.CountOut(80, "2026-08-01");
  brood.Pull("2026-09-01");
  EXPECT_EQ(Shown().sac_outcomes().shares(0).cases(), 1U);
  EXPECT_FALSE(Shown().has_pulled_sac_outcomes());
}

TEST_F(Health, SaysThatFoundersAreTakenAsKin) {
  Add("mira", {.name = "bruno", .sex = facts::Sex::kMale});
  Add("mira", {.name = "rosa", .sex = facts::Sex::kFemale});
  EXPECT_DOUBLE_EQ(Shown().mean_kinship(), 0.25);
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::FounderKinship{.group = group_, .numerator = 1, .denominator = 4}})
                  .ok());
  const v1::GroupHealth health = Shown();
  EXPECT_DOUBLE_EQ(health.mean_kinship(), (0.5 + 0.25) / 2);
  EXPECT_THAT(health.remarks(), Contains("assumed: 2 founders of hamorii-colima are kin by 1/4, as "
                                         "registrar mira stated"));
  EXPECT_EQ(health.group().founder_kinships(0).kinship(), "1/4");
}

TEST_F(Health, NamesAMaleThatMaturedBeforeHeHatchedAndParentsOfTheOtherSex) {
  Add("mira", {.name = "early",
               .sex = facts::Sex::kMale,
               .hatching = On("2025-05-01"),
               .maturity = On("2024-01-01")});
  const AnimalId sire = Add("mira", {.name = "turned"});
  Add("mira", {.name = "child", .sire = sire});
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::SexClaim{.animal = sire,
                                        .sex = facts::Sex::kFemale,
                                        .method = facts::SexMethod::kShedSkin,
                                        .day = On("2026-01-01")}})
                  .ok());
  const v1::GroupHealth health = Shown();
  EXPECT_THAT(health.remarks(),
              Contains("early matured 2024-01-01, before it hatched, 2025-05-01"));
  EXPECT_THAT(health.remarks(),
              Contains(HasSubstr("turned is a female, but stands as sire of child")));
}

// Where animals were entered before what happened to them: their lives were watched.
class HealthOfWatchedLives : public Health {
 protected:
  HealthOfWatchedLives() : Health(400) {}

  v1::GroupHealth WithoutPriors() {
    const survival::Expectations empty;
    const auto health = HealthOf(society_.ViewOf("mira"), group_, DayOn("2026-11-25"), &empty);
    EXPECT_TRUE(health.ok()) << health.status();
    return health.ok() ? *health : v1::GroupHealth{};
  }

  AnimalId Male(const std::string& name) {
    return Add("mira", {.name = name, .sex = facts::Sex::kMale, .maturity = On("2025-11-25")});
  }
};

TEST_F(HealthOfWatchedLives, SaysThatOneLifeIsTooFew) {
  Male("bruno");
  const v1::GroupHealth health = WithoutPriors();
  EXPECT_FALSE(health.has_male_life());
  EXPECT_THAT(health.remarks(), Contains(HasSubstr("lives watched in this group 1, ended 0")));
}

TEST_F(HealthOfWatchedLives, SaysNothingOfLivesOfWhichNoneEnded) {
  for (int i = 0; i < 8; ++i) Male(fmt::format("m-{}", i));
  const v1::GroupHealth health = WithoutPriors();
  EXPECT_FALSE(health.has_male_life());
  EXPECT_THAT(health.projection(), IsEmpty());
  EXPECT_THAT(health.remarks(), Contains(HasSubstr("lives watched in this group 8, ended 0")));
}

// Eight that died on one day: a curve of one step, and every number is that of the step.
TEST_F(HealthOfWatchedLives, TakesDeathsOfOneDayTogether) {
  for (int i = 0; i < 8; ++i) {
    const AnimalId male = Male(fmt::format("m-{}", i));
    ASSERT_TRUE(
        society_.At("mira").Act({facts::Death{.animal = male, .day = On("2026-06-13")}}).ok());
  }
  const v1::GroupHealth health = WithoutPriors();
  EXPECT_EQ(health.male_life().source(), "group: 8 lives, 8 ended");
  EXPECT_EQ(health.male_life().days(), 200);
}

TEST_F(Health, SaysWhoseDayOfMaturityIsMissing) {
  Add("mira", {.name = "bruno", .sex = facts::Sex::kMale});
  EXPECT_THAT(Shown().remarks(), Contains(HasSubstr("1 living males have no day of maturity")));
}

}  // namespace
}  // namespace broodpact::replica
