// Goal: names move and animals stay, hybrids need a word and are marked wherever they show. Method:
// command lines of keepers; mira is the registrar.

#include "cli/commands/group.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class GroupTest : public PairOfAnimalsTest {};

TEST_F(GroupTest, IsCalledByItsAcceptedNameOnly) {
  Do("tomas", "group name hamorii-colima \"Brachypelma smithi\" --status misapplied");
  EXPECT_EQ(Json("tomas", "group show hamorii-colima")["group"]["taxon"], "Brachypelma hamorii");
  Deliver();
  const Answer answer =
      Say("tomas", "group name hamorii-colima \"Tliltocatl hamorii\" --status accepted");
  EXPECT_EQ(answer.reason(), "NOT_REGISTRAR");
  Do("mira",
     "group name hamorii-colima \"Tliltocatl hamorii\" --status accepted --since 2020 "
     "--source \"a list\"");
  const nlohmann::json group = Json("mira", "group show hamorii-colima")["group"];
  EXPECT_EQ(group["taxon"], "Tliltocatl hamorii");
  EXPECT_EQ(group["names"][0]["status"], "formerly accepted");
  EXPECT_EQ(group["names"][1]["status"], "misapplied");
  EXPECT_EQ(group["names"][2]["status"], "accepted");
  EXPECT_EQ(group["names"][2]["since_day"], "2020");
  EXPECT_THAT(Do("mira", "group show hamorii-colima"),
              HasSubstr("misapplied\tBrachypelma smithi (says tomas)\n"));
}

TEST_F(GroupTest, IsSplitAndMergedWithItsHistory) {
  EXPECT_EQ(Do("mira",
               "group split hamorii-colima --into hamorii-jalisco --animal rosa "
               "--reason \"other site\""),
            "Moved 1 animal from hamorii-colima to group hamorii-jalisco.\n");
  EXPECT_EQ(Json("mira", "animal show rosa")["group"]["name"], "hamorii-jalisco");
  EXPECT_EQ(Json("mira", "animal show rosa")["past_groups"][0]["group"]["name"], "hamorii-colima");
  EXPECT_EQ(Do("mira", "group merge hamorii-jalisco --into hamorii-colima"),
            "hamorii-jalisco goes on as hamorii-colima, with 1 animal more.\n");
  EXPECT_EQ(Json("mira", "animal show rosa")["group"]["name"], "hamorii-colima");
  EXPECT_EQ(Json("mira", "group show hamorii-jalisco")["group"]["successor"]["name"],
            "hamorii-colima");
}

TEST_F(GroupTest, AcrossGroupsAPairingNeedsAWordAndMarksWhatFollows) {
  Do("mira", "group add vagans --taxon \"Tliltocatl vagans\"");
  Do("mira", "animal add vera --group vagans --sex female");
  Deliver();
  const Answer answer = Say("tomas", "pair bh-m-07 vera");
  EXPECT_EQ(answer.reason(), "HYBRID_UNINTENDED");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUnsettled);
  Do("tomas", "pair bh-m-07 vera --hybrid --outcome seen");
  Do("mira", "pair tomas/bh-m-07 vera --hybrid --outcome seen --no-loan");
  Deliver();
  Do("mira", "sac laid vera --name vera-26 --no-loan");
  EXPECT_EQ(Json("mira", "sac show vera-26")["hybrid"], true);
  Do("mira", "animal add child --group vagans --dam vera --sire bh-m-07");
  EXPECT_EQ(Json("mira", "animal show child")["hybrid"], true);
  EXPECT_THAT(Do("mira", "animal list --group vagans"), HasSubstr("child (hybrid)\t"));
}

}  // namespace
}  // namespace broodpact::cli
