// Goal: from the pairing to the last receipt every sling has a place, and what a keeper reads is
// what the terms say. Method: three keepers, each with a replica of their own; splits that are
// small enough to check by hand.

#include "cli/commands/clutch.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class ClutchTest : public PairOfAnimalsTest {
 protected:
  // Mira has a counted clutch, 73 living and 4 dead, shared two to one with tomas.
  void Count() {
    Lend("--share mira=2 --share tomas=1");
    Do("mira", "sac laid rosa --name rosa-26");
    Do("mira", "sac pulled rosa-26");
    Do("mira", "count rosa-26 --living 73 --dead 4 --total 77");
    Deliver();
  }

  // Hands what a device has not delivered over to another one.
  void Carry(const std::string& from, const std::string& to) {
    const std::string file = (society_.folder() / "handed.bp").string();
    Do(from, "bundle write \"" + file + "\"");
    EXPECT_GT(Json(to, "bundle read \"" + file + "\"")["mail_taken"].get<int>(), 0);
  }

  // The id of the lot of a keeper at a keeper's replica.
  std::string LotOf(const std::string& keeper, const std::string& at) {
    nlohmann::json split = Json(at, "split rosa-26 --preview");
    for (auto& part : split["parts"]) {
      if (part["keeper"]["name"] == keeper) return part["lot"]["id"];
    }
    return "";
  }
};

TEST_F(ClutchTest, IsSharedByTheLoanOfItsPairings) {
  Lend();
  const std::string said = Do("mira", "sac laid rosa --name rosa-26");
  EXPECT_EQ(said,
            "rosa laid on 2026-11-25: clutch rosa-26. The terms of loan rosa-loan share it.\n");
  const nlohmann::json clutch = Json("mira", "sac show rosa-26");
  EXPECT_EQ(clutch["loan"]["name"], "rosa-loan");
  EXPECT_EQ(clutch["possible_sires"][0]["name"], "bh-m-07");
  EXPECT_EQ(Json("mira", "sac list")["clutches"].size(), 1U);
}

TEST_F(ClutchTest, IsTheOwnersWhereAMoultShedTheSperm) {
  Lend();
  society_.clock().AdvanceDays(30);
  Do("mira", "animal moult rosa");
  society_.clock().AdvanceDays(60);
  EXPECT_THAT(Do("mira", "sac laid rosa --name rosa-27"), HasSubstr("No loan shares it"));
}

TEST_F(ClutchTest, IsTheOwnersWhereThatIsSaid) {
  Lend();
  EXPECT_THAT(Do("mira", "sac laid rosa --no-loan"), HasSubstr("No loan shares it"));
  EXPECT_EQ(Say("mira", "sac laid rosa --no-loan --loan rosa-loan").reason(), "USAGE");
}

TEST_F(ClutchTest, CountsHaveToAddUp) {
  Lend();
  Do("mira", "sac laid rosa --name rosa-26");
  const Answer answer = Say("mira", "count rosa-26 --living 73 --dead 4 --total 80");
  EXPECT_EQ(answer.reason(), "COUNTS_DO_NOT_ADD_UP");
  EXPECT_EQ(answer.status.message(),
            "73 living and 4 dead make 77, not 80; count again, nothing is recorded");
  EXPECT_EQ(Json("mira", "sac show rosa-26")["counts"].size(), 0U);
}

TEST_F(ClutchTest, IsCountedAgainOnlyWhenThatIsSaid) {
  Count();
  EXPECT_EQ(Say("mira", "count rosa-26 --living 72 --dead 5").reason(), "ALREADY_COUNTED");
  Do("mira", "count rosa-26 --living 72 --dead 5 --again");
  const nlohmann::json clutch = Json("mira", "sac show rosa-26");
  EXPECT_EQ(clutch["counts"][0]["state"], "replaced");
  EXPECT_EQ(clutch["counts"][1]["state"], "standing");
}

TEST_F(ClutchTest, IsCountedInPlaceOfTheCountThatIsNamedIfThatStillStands) {
  Count();
  const std::string first = Json("mira", "sac show rosa-26")["counts"][0]["token"];
  Do("mira", "count rosa-26 --living 72 --dead 5 --replaces " + first);
  const Answer late = Say("mira", "count rosa-26 --living 70 --dead 7 --replaces " + first);
  EXPECT_EQ(late.exit_code(), ExitCode::kUnsettled);
  const std::string message(late.status.message());
  EXPECT_THAT(message, HasSubstr("72 living stands"));
  EXPECT_THAT(message, HasSubstr("nothing is recorded"));
  EXPECT_EQ(Json("mira", "sac show rosa-26")["counts"].size(), 2U);
}

TEST_F(ClutchTest, WithoutANameGoesByItsId) {
  Do("mira", "sac laid rosa --no-loan");
  const nlohmann::json clutch = Json("mira", "sac list")["clutches"][0];
  const std::string name = clutch["name"];
  EXPECT_EQ(name, clutch["id"].get<std::string>().substr(0, name.size()));
  EXPECT_THAT(Do("mira", "count " + name + " --living 7 --dead 0"),
              HasSubstr("Clutch " + name + " is counted"));
}

TEST_F(ClutchTest, ThatIsUnknownIsLookedForInTheListThatThereIs) {
  const Answer answer = Say("mira", "sac show nothing");
  EXPECT_EQ(answer.exit_code(), ExitCode::kNothing);
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr("broodpact sac list"));
}

TEST_F(ClutchTest, SplitShowsItsWorkingAndRecordsNothingInAPreview) {
  Count();
  tty_ = true;
  const Answer answer = Say("tomas", "split rosa-26 --preview");
  EXPECT_THAT(answer.out, HasSubstr("73"));
  EXPECT_THAT(answer.out, HasSubstr("KEEPER  SLINGS"));
  EXPECT_THAT(answer.messages, HasSubstr("Nothing is recorded"));
  tty_ = false;
  EXPECT_EQ(Say("tomas", "split rosa-26 --preview").out, "tomas\t24\t\nmira\t49\t\n");
  EXPECT_EQ(Say("tomas", "split rosa-26 --preview --count 6").out, "tomas\t2\t\nmira\t4\t\n");
  EXPECT_EQ(Json("tomas", "split rosa-26 --preview")["recorded"], false);
  EXPECT_EQ(Say("tomas", "split rosa-26 --count 6").reason(), "USAGE");
}

TEST_F(ClutchTest, SplitBecomesLots) {
  Count();
  EXPECT_THAT(Json("tomas", "status")["tasks"].dump(), HasSubstr("broodpact split rosa-26"));
  EXPECT_THAT(Do("mira", "split rosa-26"), HasSubstr("Shared out: 73 slings to 2 keepers."));
  Deliver();
  EXPECT_EQ(Json("mira", "split rosa-26 --preview")["recorded"], true);
  EXPECT_EQ(Json("tomas", "lot list")["lots"][0]["slings"], 24);
  EXPECT_THAT(Json("mira", "status")["tasks"].dump(), HasSubstr("over to tomas"));
}

TEST_F(ClutchTest, SlingsAreHandedOverLostAndRaisedAndAllAreAccountedFor) {
  Count();
  Do("mira", "split rosa-26");
  Deliver();
  const std::string lot = LotOf("tomas", "mira");
  const std::string own = LotOf("mira", "mira");
  EXPECT_THAT(Do("mira", "lot give " + lot + " --slings 20"), HasSubstr("on the way to tomas"));
  Deliver();
  const nlohmann::json tasks = Json("tomas", "status")["tasks"];
  ASSERT_THAT(tasks.dump(), HasSubstr("broodpact lot receive "));
  std::string parcel;
  nlohmann::json lots = Json("tomas", "lot list");
  for (auto& one : lots["lots"]) {
    if (one["receiver"]["name"] == "tomas") parcel = one["id"];
  }
  EXPECT_EQ(Do("tomas", "lot receive " + parcel + " --living 18 --dead 1"),
            "Received 18 slings of clutch rosa-26 alive, 1 dead.\n");
  Do("mira", "lot lose " + own + " --slings 2 --cause \"bad moult\"");
  EXPECT_THAT(Do("mira", "lot raise " + own + " --name bh-26-01"), HasSubstr("46 slings left"));
  Deliver();
  const nlohmann::json accounts = Json("mira", "sac show rosa-26")["accounts"];
  EXPECT_EQ(accounts["slings_hatched"], 77);
  EXPECT_EQ(accounts["slings_living"], 46 + 4 + 18);
  EXPECT_EQ(accounts["slings_dead"], 4 + 1 + 2);
  EXPECT_EQ(accounts["slings_raised"], 1);
  EXPECT_EQ(accounts["slings_unaccounted"], 1);
  EXPECT_EQ(Json("mira", "animal show bh-26-01")["clutch"]["name"], "rosa-26");
}

TEST_F(ClutchTest, SlingsOfALotAreLeasedInTheNumberThatTheyAre) {
  Count();
  Do("mira", "split rosa-26");
  Deliver();
  const std::string lot = LotOf("mira", "mira");
  EXPECT_THAT(Do("mira", "lease take --lot " + lot + " --slings 10 --until 2026-12-01"),
              HasSubstr("10 slings of lot " + lot + " are leased"));
  EXPECT_THAT(Do("mira", "lease take --lot " + lot + " --slings 1 --until 2026-12-01"),
              HasSubstr("1 sling of lot " + lot + " is leased"));
}

TEST_F(ClutchTest, LotOfOnesOwnNeedsAReceiver) {
  Count();
  Do("mira", "split rosa-26");
  EXPECT_EQ(Say("mira", "lot give " + LotOf("mira", "mira")).reason(), "USAGE");
  EXPECT_EQ(Say("mira", "lot give " + LotOf("mira", "mira") + " --slings 99 --to bela").reason(),
            "INSUFFICIENT");
}

TEST_F(ClutchTest, SacThatCameToNothingIsLost) {
  Lend();
  Do("mira", "sac laid rosa --name rosa-26");
  Do("mira", "sac lost rosa-26 --cause eaten");
  EXPECT_EQ(Json("mira", "sac show rosa-26")["state"], "lost");
}

TEST_F(ClutchTest, LogHasWhatWasSaidTheNewestLast) {
  Count();
  Do("mira", "sac laid rosa --name later");
  const nlohmann::json entries = Json("mira", "log --mine --limit 2")["entries"];
  ASSERT_EQ(entries.size(), 2U);
  EXPECT_THAT(entries[0]["statements"][0].get<std::string>(), HasSubstr("counted"));
  EXPECT_EQ(entries[1]["arrival"], 0);
  EXPECT_EQ(entries[1]["verdict"]["kind"], "VERDICT_KIND_COUNTED");
}

TEST_F(ClutchTest, LogOfOnesOwnHasAllThatThereIsRoomForWhileMailIsCarried) {
  Do("tomas", "group add smithi --taxon \"Brachypelma smithi\"");
  Do("tomas", "group add emilia --taxon \"Brachypelma emilia\"");
  Carry("tomas", "mira");
  const nlohmann::json entries = Json("mira", "log --mine --limit 2")["entries"];
  ASSERT_EQ(entries.size(), 2U);
  EXPECT_EQ(entries[0]["keeper"]["name"], "mira");
  EXPECT_THAT(entries[1]["statements"][0].get<std::string>(), HasSubstr("entered rosa"));
}

TEST_F(ClutchTest, LogOfOnesOwnHasWhatAnotherOwnDeviceHasNotDelivered) {
  society_.EnterDevice("mira field", "mira");
  Do("mira field", "group add smithi --taxon \"Brachypelma smithi\"");
  Carry("mira field", "mira");
  const nlohmann::json entries = Json("mira", "log --mine --limit 1")["entries"];
  ASSERT_EQ(entries.size(), 1U);
  EXPECT_THAT(entries[0]["statements"][0].get<std::string>(), HasSubstr("entered group smithi"));
}

TEST_F(ClutchTest, ReplicasOfOneLogVerifyToOneDigestAlsoAfterARebuild) {
  Count();
  const nlohmann::json mira = Json("mira", "verify");
  EXPECT_TRUE(mira["faults"].empty()) << mira;
  EXPECT_EQ(Json("tomas", "verify")["state_digest"], mira["state_digest"]);
  EXPECT_EQ(Json("tomas", "rebuild")["state_digest"], mira["state_digest"]);
  EXPECT_EQ(Json("mira", "clashes")["clashes"].size(), 0U);
}

TEST_F(ClutchTest, PulledBeforeItWasLaidIsRecordedWithANote) {
  Do("mira", "sac laid rosa --name rosa-26 --on 2026-10-10");
  const Answer pulled = Say("mira", "sac pulled rosa-26 --on 2026-10-01");
  EXPECT_TRUE(pulled.status.ok()) << pulled.status;
  EXPECT_THAT(pulled.messages, HasSubstr("laid on 2026-10-10 and pulled on 2026-10-01"));
}

TEST_F(ClutchTest, WhoseSiresAMoultChangesIsNamedWhenItIsEntered) {
  Do("mira", "animal add old --group hamorii-colima --sex male --mature 2026-01-01");
  Do("mira", "pair old rosa --on 2026-09-01");
  Do("mira", "sac laid rosa --name rosa-26 --on 2026-10-10");
  const Answer answer = Say("mira", "animal moult rosa --on 2026-09-20");
  EXPECT_TRUE(answer.status.ok()) << answer.status;
  EXPECT_THAT(answer.messages,
              HasSubstr("the possible sires of clutch rosa-26 were old and now are none known"));
  EXPECT_THAT(Say("mira", "animal moult rosa --on 2026-11-20").messages,
              ::testing::Not(HasSubstr("possible sires")));
}

TEST_F(ClutchTest, OfAMaleBeforeItsMaturityOrAfterItsDeathIsRecordedWithANote) {
  EXPECT_THAT(Say("tomas", "animal add late --group hamorii-colima --sex male --mature 2026-10-02")
                  .messages,
              ::testing::Not(HasSubstr("cannot both be right")));
  const Answer early = Say("mira", "pair bh-m-07 rosa --on 2026-09-01");
  EXPECT_TRUE(early.status.ok()) << early.status;
  EXPECT_THAT(early.messages, HasSubstr("mature on 2026-10-02 and paired on 2026-09-01"));
  EXPECT_THAT(Say("mira", "pair bh-m-07 rosa --on 2026-11-01").messages,
              ::testing::Not(HasSubstr("cannot both be right")));
  Do("tomas", "animal died bh-m-07 --on 2026-11-10");
  Deliver();
  EXPECT_THAT(Say("mira", "pair bh-m-07 rosa --on 2026-11-20").messages,
              HasSubstr("2026-11-20 lies after the death of"));
}

TEST_F(ClutchTest, HasANameThatItsKeeperGaveToNoOtherOne) {
  Do("mira", "sac laid rosa --name rosa-26");
  const Answer again = Say("mira", "sac laid rosa --name rosa-26");
  EXPECT_EQ(again.reason(), "NAME_TAKEN");
  EXPECT_THAT(std::string(again.status.message()), HasSubstr("a sac rosa-26 already"));
  Do("mira", "sac lost rosa-26");
  Do("mira", "sac laid rosa --name rosa-26");
}

}  // namespace
}  // namespace broodpact::cli
