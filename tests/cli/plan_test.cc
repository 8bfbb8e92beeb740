// Goal: a keeper plans, offers, vetoes and wants from the command line, and reads what came of it.
// Method: three keepers at their terminals; mira has a female, tomas a mature male.

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class PlanCommand : public PairOfAnimalsTest {};

TEST_F(PlanCommand, PrintsThePairsAndTheComparisons) {
  EXPECT_THAT(Do("mira", "plan hamorii-colima"), HasSubstr("bh-m-07\ttomas\trosa\tmira"));
  const nlohmann::json plan = Json("mira", "plan hamorii-colima");
  EXPECT_EQ(plan.at("pairs").size(), 1U);
  EXPECT_EQ(plan.at("figures").size(), 3U);
  EXPECT_EQ(plan.at("figures")[1].at("name"), "no exchange");
  tty_ = true;
  EXPECT_THAT(Do("mira", "plan hamorii-colima"), HasSubstr("nearest male"));
}

TEST_F(PlanCommand, SaysByWhichCommandAFemaleIsKeptOut) {
  EXPECT_THAT(Json("mira", "plan hamorii-colima").dump(), HasSubstr("`broodpact veto add` keeps"));
}

TEST_F(PlanCommand, OffersInOneStepAfterAConfirmation) {
  EXPECT_EQ(Say("tomas", "plan hamorii-colima --offer").reason(), "NOT_CONFIRMED");
  tty_ = true;
  input_ = "n\n";
  EXPECT_EQ(Say("tomas", "plan hamorii-colima --offer").reason(), "NOT_CONFIRMED");
  input_ = "y\n";
  EXPECT_THAT(Do("tomas", "plan hamorii-colima --offer --until 2027-06-01"),
              HasSubstr("Offered bh-m-07 to mira."));
  tty_ = false;
  EXPECT_EQ(Say("tomas", "plan hamorii-colima --offer --yes").reason(), "NOTHING_TO_OFFER");
  EXPECT_EQ(Say("mira", "plan hamorii-colima --offer --yes").reason(), "NOTHING_TO_OFFER");
  Deliver();
  EXPECT_THAT(Do("mira", "loan list"), HasSubstr("bh-m-07"));
}

TEST_F(PlanCommand, KeepsOutWhatIsVetoed) {
  EXPECT_THAT(Do("mira", "veto add --with-keeper tomas"),
              HasSubstr("All your animals are kept out of plans with tomas."));
  Deliver();
  EXPECT_EQ(Say("tomas", "plan hamorii-colima").reason(), "NO_PLAN");
  EXPECT_THAT(Do("tomas", "veto list"), HasSubstr("mira\tall\ttomas"));
  EXPECT_THAT(Do("tomas", "log --limit 1"), HasSubstr("kept all own animals out of plans with"));
  Do("mira", "veto lift --with-keeper tomas");
  Deliver();
  EXPECT_THAT(Do("tomas", "plan hamorii-colima"), HasSubstr("bh-m-07"));
  EXPECT_EQ(Say("mira", "veto add").reason(), "USAGE");
  EXPECT_EQ(Say("mira", "veto lift --animal rosa").reason(), "NO_VETO");
}

TEST_F(PlanCommand, SaysWhatIsWantedAndFindsAHome) {
  EXPECT_THAT(Do("mira", "want add hamorii-colima --what male"),
              HasSubstr("You are looking for a male of hamorii-colima"));
  EXPECT_THAT(Do("mira", "want list"), HasSubstr("bh-m-07 of tomas is free"));
  const std::string id = Json("mira", "want list").at("wants")[0].at("id");
  EXPECT_EQ(Do("mira", "want end " + id.substr(0, 8)), "Want " + id.substr(0, 8) + " is ended.\n");
  EXPECT_EQ(Say("mira", "want end " + id.substr(0, 8)).reason(), "UNKNOWN_SUBJECT");
  EXPECT_EQ(Say("tomas", "find home hamorii-colima").reason(), "NO_MATCH");
  Do("mira", "want add hamorii-colima --count 10 --note \"any line\"");
  Deliver();
  EXPECT_THAT(Do("tomas", "find home hamorii-colima"), HasSubstr("mira\t10"));
}

TEST_F(PlanCommand, ExplainsASearch) {
  EXPECT_THAT(Do("mira", "find male --for rosa --why"), HasSubstr("bh-m-07: first"));
  EXPECT_THAT(Do("mira", "find male --for rosa --pairings-max 0 --free --ignore inbreeding"),
              HasSubstr("prior, from memory"));
  EXPECT_EQ(Say("mira", "find male --for rosa --distance-max 10").reason(), "NO_MATCH");
}

}  // namespace
}  // namespace broodpact::cli
