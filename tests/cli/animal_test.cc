// Goal: keepers, groups and animals can be entered, followed and looked up by name; dates read as
// ISO 8601-2 and never lie in the future. Method: command lines of keepers with replicas of their
// own.

#include "cli/commands/animal.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class AnimalTest : public PairOfAnimalsTest {};

TEST_F(AnimalTest, KeepersAndGroupsAreListed) {
  EXPECT_THAT(Do("tomas", "keeper list"), HasSubstr("mira\tregistrar\tPL\t"));
  EXPECT_EQ(Json("tomas", "keeper show bela")["region"], "PL");
  EXPECT_THAT(Do("tomas", "group list"), HasSubstr("hamorii-colima\tBrachypelma hamorii\tColima"));
  EXPECT_EQ(Json("tomas", "group show hamorii-colima")["group"]["locality"], "Colima");
}

TEST_F(AnimalTest, IsShownWithAllThatIsKnown) {
  Do("mira", "animal moult rosa --on 2026-05-03~ --number 14");
  Do("mira", "animal sexed rosa female --method shed-skin --on 2026-05");
  Deliver();
  const nlohmann::json rosa = Json("tomas", "animal show rosa");
  EXPECT_EQ(rosa["owner"]["name"], "mira");
  EXPECT_EQ(rosa["hatching_day"], "2018");
  EXPECT_EQ(rosa["moults"][0]["day"], "2026-05-03~");
  EXPECT_EQ(rosa["moults"][0]["moult_count"], 14);
  EXPECT_EQ(rosa["sex_claims"].back()["method"], "shed skin");
  EXPECT_EQ(rosa["standing"], "STANDING_FINAL");
  EXPECT_THAT(Do("tomas", "animal show rosa"), HasSubstr("moult\t2026-05-03~ (number 14)\n"));
}

TEST_F(AnimalTest, IsListedByGroupAndKeeper) {
  EXPECT_THAT(Do("mira", "animal list --mine"), ::testing::StartsWith("rosa\thamorii-colima\t"));
  EXPECT_EQ(Json("mira", "animal list --group hamorii-colima")["animals"].size(), 2U);
  EXPECT_EQ(Json("mira", "animal list --keeper tomas")["animals"].size(), 1U);
  EXPECT_EQ(Json("mira", "animal list --keeper bela")["animals"].size(), 0U);
  const nlohmann::json page = Json("mira", "animal list --limit 1");
  EXPECT_EQ(page["animals"].size(), 1U);
  EXPECT_NE(page["next_page"], "");
}

TEST_F(AnimalTest, MaturesDiesAndIsGivenAway) {
  Do("mira", "animal add young --group hamorii-colima");
  Do("mira", "animal matured young --sex male --on 2026-11-01");
  EXPECT_EQ(Json("mira", "animal show young")["sex"], "male");
  EXPECT_EQ(Json("mira", "animal show young")["maturity_day"], "2026-11-01");
  EXPECT_EQ(Do("mira", "animal give young --to bela"), "young belongs to bela now.\n");
  Deliver();
  EXPECT_EQ(Json("bela", "animal show young")["holder"]["name"], "bela");
  Do("bela", "animal died young --cause \"old age\"");
  EXPECT_EQ(Json("bela", "animal show young")["death_cause"], "old age");
}

TEST_F(AnimalTest, NeverMoultsTomorrow) {
  const Answer answer = Say("mira", "animal moult rosa --on 2026-11-26");
  EXPECT_EQ(answer.reason(), "DATE_IN_FUTURE");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUsage);
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr("today is 2026-11-25"));
  Do("mira", "animal moult rosa --on 2026-11");  // may have been: the month has begun
}

TEST_F(AnimalTest, RefusesImpossibleDatesWithTheirReason) {
  EXPECT_EQ(Say("mira", "animal moult rosa --on 2026-02-30").reason(), "DATE_IMPOSSIBLE");
  EXPECT_EQ(Say("mira", "animal moult rosa --on yesterday").reason(), "DATE_SYNTAX");
  EXPECT_EQ(Say("mira", "animal moult rosa --on 1066").reason(), "DATE_OUT_OF_RANGE");
}

TEST_F(AnimalTest, RefusesBadNames) {
  const std::string group = " --group hamorii-colima";
  EXPECT_EQ(Say("mira", "animal add \"\"" + group).reason(), "NAME_EMPTY");
  EXPECT_EQ(Say("mira", "animal add " + std::string(65, 'x') + group).reason(), "NAME_TOO_LONG");
  EXPECT_EQ(Say("mira", "animal add a\xFF" + group).reason(), "TEXT_MALFORMED");
}

TEST_F(AnimalTest, IsNotFoundWithCandidates) {
  const Answer answer = Say("mira", "animal show ros");
  EXPECT_EQ(answer.reason(), "UNKNOWN_SUBJECT");
  EXPECT_EQ(answer.exit_code(), ExitCode::kNothing);
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr("rosa"));
}

TEST_F(AnimalTest, IsAmbiguousUntilTheKeeperIsSaid) {
  Do("tomas", "animal add rosa --group hamorii-colima --sex female");
  Deliver();
  const Answer answer = Say("bela", "animal show rosa");
  EXPECT_EQ(answer.reason(), "AMBIGUOUS_SUBJECT");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUsage);
  EXPECT_EQ(Json("bela", "animal show tomas/rosa")["owner"]["name"], "tomas");
  EXPECT_EQ(Json("mira", "animal show rosa")["owner"]["name"], "mira");  // her own first
}

TEST_F(AnimalTest, OfAnotherKeeperCannotBeStated) {
  const Answer answer = Say("bela", "animal died rosa");
  EXPECT_EQ(answer.reason(), "NOT_YOUR_ANIMAL");
  EXPECT_EQ(answer.exit_code(), ExitCode::kNotAllowed);
}

TEST_F(AnimalTest, MatesAreFoundAndKinIsShown) {
  const nlohmann::json males = Json("mira", "find male --for rosa");
  ASSERT_EQ(males["matches"].size(), 1U);
  EXPECT_EQ(males["matches"][0]["animal"]["name"], "bh-m-07");
  EXPECT_EQ(males["matches"][0]["mature_days"], 54);
  EXPECT_NE(males["order"], "");
  EXPECT_EQ(Json("tomas", "find female --for bh-m-07")["matches"][0]["animal"]["name"], "rosa");
  EXPECT_EQ(Json("mira", "kin rosa bh-m-07")["kinship"], 0.0);
  EXPECT_EQ(Say("mira", "find male").reason(), "USAGE");
  EXPECT_EQ(Say("mira", "find male --for rosa --inbreeding-max 2").reason(), "USAGE");
}

TEST_F(AnimalTest, NoMateIsAnEmptyAnswerAndNotAnError) {
  Do("mira", "group add empty --taxon \"Grammostola pulchra\"");
  const Answer answer = Say("mira", "find male --group empty --json");
  EXPECT_EQ(answer.reason(), "NO_MATCH");
  EXPECT_EQ(answer.exit_code(), ExitCode::kNothing);
  EXPECT_TRUE(nlohmann::json::parse(answer.out)["matches"].empty());
}

TEST_F(AnimalTest, ThatDiedBeforeItWasMatureIsRecordedWithANote) {
  const Answer died = Say("tomas", "animal died bh-m-07 --on 2026-09-01");
  EXPECT_TRUE(died.status.ok()) << died.status;
  EXPECT_THAT(died.messages, HasSubstr("mature on 2026-10-02 and died on 2026-09-01"));
}

TEST_F(AnimalTest, WhoseMaturityIsEnteredAfterItsDeathIsRecordedWithANote) {
  Do("mira", "animal add young --group hamorii-colima --sex male");
  Do("mira", "animal died young --on 2026-09-01");
  EXPECT_THAT(Say("mira", "animal matured young --on 2026-10-01").messages,
              HasSubstr("lies after the death of"));
}

TEST_F(AnimalTest, WhoseDaysContradictEachOtherAreRecordedWithANote) {
  const Answer added = Say("mira",
                           "animal add early --group hamorii-colima --hatched 2026-06-01 "
                           "--mature 2026-05-01");
  EXPECT_TRUE(added.status.ok()) << added.status;
  EXPECT_THAT(added.messages, HasSubstr("hatched on 2026-06-01 and mature on 2026-05-01"));
  const Answer died = Say("mira", "animal died early --on 2026-05");
  EXPECT_TRUE(died.status.ok()) << died.status;
  EXPECT_THAT(died.messages, HasSubstr("cannot both be right"));
  Do("mira", "animal add young --group hamorii-colima --hatched 2026-06");
  // It may have matured after it hatched, in that month.
  EXPECT_THAT(Say("mira", "animal matured young --sex male --on 2026-06-10").messages,
              ::testing::Not(HasSubstr("cannot both be right")));
}

}  // namespace
}  // namespace broodpact::cli
