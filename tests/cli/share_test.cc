// Goal: shares are added to, declined, passed on and inherited, and dues change hands, in words
// that a keeper can follow. Method: mira and tomas share rosa's clutch two to one; bela looks on.

#include "cli/commands/share.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

class ShareCommandTest : public PairOfAnimalsTest {
 protected:
  void SetUp() override {
    PairOfAnimalsTest::SetUp();
    Lend("--share mira=2 --share tomas=1");
  }
  void Count() {
    Do("mira", "sac laid rosa --name rosa-26");
    Do("mira", "count rosa-26 --living 72 --dead 4");
    Deliver();
  }
  std::string LotOf(const std::string& owner, const std::string& at) {
    nlohmann::json sac = Json(at, "sac show rosa-26");
    for (const auto& lot : sac["lots"]) {
      if (lot["owner"]["name"] == owner && lot["slings"] > 0) return lot["id"];
    }
    return "";
  }
  std::string ParcelTo(const std::string& receiver) {
    nlohmann::json lots = Json(receiver, "lot list");
    for (const auto& lot : lots["lots"]) {
      if (lot.contains("receiver") && lot["receiver"]["name"] == receiver) return lot["id"];
    }
    return "";
  }
  // Mira sends slings of a lot of `owner`; so many arrive. Returns the parcel.
  std::string Arrive(const std::string& owner, const std::string& receiver, int living, int dead) {
    Do("mira", "lot give " + LotOf(owner, "mira") + " --slings " + std::to_string(living + dead) +
                   " --to " + receiver);
    Deliver();
    const std::string parcel = ParcelTo(receiver);
    Do(receiver, "lot receive " + parcel + " --living " + std::to_string(living) + " --dead " +
                     std::to_string(dead));
    Deliver();
    return parcel;
  }
  std::vector<std::string> PartiesWhoGaveUp(const std::string& at) {
    std::vector<std::string> parties;
    const nlohmann::json sac = Json(at, "sac show rosa-26");
    for (const auto& share : sac["parties"]) {
      if (share["given_up"]) parties.push_back(share["party"]["name"]);
    }
    return parties;
  }
  int SlingsOf(const std::string& keeper, const std::string& line) {
    int slings = 0;
    nlohmann::json split = Json("mira", line);
    for (const auto& part : split["parts"]) {
      if (part["keeper"]["name"] == keeper) slings += part["slings"].get<int>();
    }
    return slings;
  }
};

TEST_F(ShareCommandTest, SlingsThatHatchLateAreSharedByTheNextSplit) {
  Count();
  Do("mira", "split rosa-26");
  EXPECT_THAT(Do("mira", "sac late rosa-26 --slings 3"), HasSubstr("3 slings more"));
  EXPECT_EQ(SlingsOf("mira", "split rosa-26 --preview"), 50);
  EXPECT_EQ(SlingsOf("tomas", "split rosa-26 --preview"), 25);
  EXPECT_THAT(Do("mira", "status"), HasSubstr("has 3 slings that are not shared out"));
  Do("mira", "split rosa-26");
  Deliver();
  EXPECT_EQ(Json("tomas", "sac show rosa-26")["accounts"]["slings_undivided"], 0);
  EXPECT_EQ(Say("tomas", "split rosa-26").reason(), "ALREADY_SHARED");
}

TEST_F(ShareCommandTest, AShareIsDeclinedOrPassedOnBeforeTheSplit) {
  Count();
  Do("tomas", "share pass rosa-26 --to bela --reason \"no room\"");
  Deliver();
  EXPECT_EQ(SlingsOf("bela", "split rosa-26 --preview"), 24);
  EXPECT_THAT(Do("mira", "sac show rosa-26"), HasSubstr("that of tomas is bela's"));
  Do("bela", "share decline rosa-26");
  Deliver();
  EXPECT_EQ(SlingsOf("mira", "split rosa-26 --preview"), 72);
  EXPECT_EQ(Say("mira", "share decline rosa-26").reason(), "LAST_SHARE");
  EXPECT_EQ(Say("tomas", "share decline rosa-26").reason(), "NOT_PARTY");
}

TEST_F(ShareCommandTest, OfSeveralSharesOnesOwnIsDeclined) {
  Count();
  Do("tomas", "share pass rosa-26 --to mira");
  Deliver();
  Do("mira", "share decline rosa-26");
  EXPECT_EQ(PartiesWhoGaveUp("mira"), std::vector<std::string>{"mira"});
}

TEST_F(ShareCommandTest, AShareOfAnotherIsNotDeclinedForOnesOwnThatIsGivenUp) {
  Count();
  Do("tomas", "share pass rosa-26 --to mira");
  Deliver();
  Do("mira", "share decline rosa-26");
  const Answer answer = Say("mira", "share decline rosa-26");
  EXPECT_EQ(answer.reason(), "AMBIGUOUS_SUBJECT");
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr("mira (given up)"));
  EXPECT_EQ(PartiesWhoGaveUp("mira"), std::vector<std::string>{"mira"});
}

TEST_F(ShareCommandTest, OfSeveralSharesOfOthersOneIsNamed) {
  Count();
  Do("mira", "share pass rosa-26 --to bela");
  Do("tomas", "share pass rosa-26 --to bela");
  Deliver();
  const Answer answer = Say("bela", "share decline rosa-26");
  EXPECT_EQ(answer.reason(), "AMBIGUOUS_SUBJECT");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUsage);
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr("those of tomas, mira; say whose"));
  Do("bela", "share decline rosa-26 --party tomas");
  EXPECT_EQ(PartiesWhoGaveUp("bela"), std::vector<std::string>{"tomas"});
}

TEST_F(ShareCommandTest, SlingsGoBackToTheClutchAndToTheRest) {
  Count();
  Do("mira", "split rosa-26");
  Deliver();
  EXPECT_THAT(Do("tomas", "lot return " + LotOf("tomas", "tomas") + " --slings 4"),
              HasSubstr("4 slings given back"));
  Deliver();
  Do("mira", "split rosa-26");
  EXPECT_EQ(SlingsOf("mira", "split rosa-26 --preview"), 52);
}

TEST_F(ShareCommandTest, LotsAreDividedMergedAndPassedOnAndTellTheirStory) {
  Count();
  Do("mira", "split rosa-26");
  const std::string lot = LotOf("mira", "mira");
  Do("mira", "lot divide " + lot + " --slings 8");
  const nlohmann::json lots = Json("mira", "lot list")["lots"];
  std::string part;
  for (const auto& one : lots) {
    if (one["slings"] == 8) part = one["id"];
  }
  ASSERT_FALSE(part.empty());
  EXPECT_THAT(Do("mira", "lot merge " + lot + " --with " + part), HasSubstr("has 48 slings now"));
  EXPECT_THAT(Do("mira", "lot pass " + lot + " --slings 5 --to bela"), HasSubstr("are bela's now"));
  const std::string story = Do("mira", "lot show " + lot);
  for (const char* line : {"rosa laid sac rosa-26", "72 counted alive, 4 dead", "shared out",
                           "8 slings divided off", "8 slings merged in", "5 slings passed on"}) {
    EXPECT_THAT(story, HasSubstr(line));
  }
}

// Rosa's clutch is shared two to one, and dead arrivals are replaced within two weeks.
class DeadArrivalsTest : public ShareCommandTest {
 protected:
  void SetUp() override {
    PairOfAnimalsTest::SetUp();
    Lend("--share mira=2 --share tomas=1 --dead-report 48 --dead-replace 14");
    Count();
    Do("mira", "split rosa-26");
  }
};

TEST_F(DeadArrivalsTest, AreMadeGood) {
  const std::string parcel = Arrive("tomas", "tomas", 4, 2);
  const nlohmann::json owed = Json("mira", "owed --with tomas");
  EXPECT_THAT(owed["entries"].dump(), HasSubstr("2 slings of clutch rosa-26 that arrived dead"));
  EXPECT_THAT(owed["entries"].dump(), HasSubstr("\"due_day\":\"2026-12-09\""));
  Do("mira", "lot give " + LotOf("mira", "mira") + " --slings 2 --to tomas --replaces " + parcel);
  Deliver();
  nlohmann::json replaced = Json("tomas", "lot list");
  for (const auto& one : replaced["lots"]) {
    if (one.contains("receiver") && one["receiver"]["name"] == "tomas") {
      Do("tomas", "lot receive " + one["id"].get<std::string>() + " --living 2");
    }
  }
  EXPECT_EQ(Json("tomas", "lot show " + parcel)["slings_made_good"], 2);
  EXPECT_THAT(Do("tomas", "owed"), Not(HasSubstr("that arrived dead")));
}

TEST_F(DeadArrivalsTest, OfAGiftAreNotOwed) {
  Arrive("mira", "bela", 4, 2);
  EXPECT_THAT(Do("mira", "owed"), Not(HasSubstr("that arrived dead")));
}

TEST_F(DeadArrivalsTest, OfWhatReplacesOthersAreOwedOnce) {
  const std::string parcel = Arrive("tomas", "tomas", 4, 2);
  Do("mira", "lot give " + LotOf("mira", "mira") + " --slings 2 --to tomas --replaces " + parcel);
  Deliver();
  Do("tomas", "lot receive " + ParcelTo("tomas") + " --living 1 --dead 1");
  Deliver();
  EXPECT_THAT(Do("mira", "owed"), HasSubstr("1 sling of clutch rosa-26 that arrived dead"));
  EXPECT_THAT(Json("mira", "owed")["balances"].dump(), HasSubstr("\"slings_of_first\":19"))
      << "18 of tomas's share, and 1 dead";
}

TEST_F(ShareCommandTest, DeadArrivalsAreOwedByTheTermsAlone) {
  Count();
  Do("mira", "split rosa-26");
  Arrive("tomas", "tomas", 4, 2);
  EXPECT_THAT(Do("mira", "owed"), Not(HasSubstr("that arrived dead")));
}

TEST_F(ShareCommandTest, WhatRunsWithASacIsDueToWhoHasTheShares) {
  Do("mira", "sac laid rosa --name rosa-26");
  Deliver();
  Do("tomas", "share pass rosa-26 --to bela");
  Deliver();
  EXPECT_THAT(Do("mira", "sac show rosa-26"), HasSubstr("shares go to bela too"));
}

TEST_F(ShareCommandTest, WhatRunsWithASacIsOfTheVersionThatSharesIt) {
  Do("mira", "sac laid rosa --name rosa-26");
  Deliver();
  Do("mira",
     "loan amend rosa-loan --share mira=1 --share tomas=1 --share bela=1 --role bela=raiser");
  Deliver();
  Do("tomas", "loan accept rosa-loan");
  Do("bela", "loan accept rosa-loan");
  Deliver();
  EXPECT_THAT(Do("mira", "sac show rosa-26"), HasSubstr("shares go to tomas too"));
}

TEST_F(ShareCommandTest, AShareThatIsPassedOnAfterTheSplitLeavesTheSlingsWhereTheyAre) {
  Count();
  Do("mira", "split rosa-26");
  Do("mira", "sac late rosa-26 --slings 3");
  Deliver();
  const std::string said = Do("tomas", "share pass rosa-26 --to bela");
  EXPECT_THAT(said, HasSubstr("what was shared out stays with who has it"));
  EXPECT_THAT(said, HasSubstr("broodpact lot pass"));
}

TEST_F(ShareCommandTest, AMatedFemaleIsGivenOnWithHerDueOnly) {
  const Answer answer = Say("mira", "animal give rosa --to bela");
  EXPECT_EQ(answer.reason(), "DUE_UNDISCLOSED");
  EXPECT_EQ(answer.exit_code(), ExitCode::kUnsettled);
  EXPECT_THAT(Do("mira", "animal show rosa"), HasSubstr("loan rosa-loan: shares go to tomas too"));
  EXPECT_THAT(Do("mira", "animal give rosa --to bela --with-due"),
              HasSubstr("she is yours until bela accepts"));
  Deliver();
  EXPECT_THAT(Do("bela", "status"), HasSubstr("animal accept rosa"));
  Do("bela", "animal accept mira/rosa");
  Deliver();
  EXPECT_EQ(Json("tomas", "animal show rosa")["owner"]["name"], "bela");
  EXPECT_THAT(Do("bela", "sac laid rosa --name b-26"), HasSubstr("The terms of loan rosa-loan"));
  EXPECT_THAT(Do("bela", "sac show b-26"), HasSubstr("that of mira is bela's"));
}

TEST_F(ShareCommandTest, TheGiverIsAskedAboutTheDueAtATerminal) {
  tty_ = true;
  input_ = "n\n";
  EXPECT_EQ(Say("mira", "animal give rosa --to bela").reason(), "DUE_UNDISCLOSED");
  input_ = "y\n";
  EXPECT_TRUE(Say("mira", "animal give rosa --to bela").status.ok());
}

TEST_F(ShareCommandTest, ASacIsGivenOnWithItsDue) {
  Count();
  EXPECT_EQ(Say("mira", "sac give rosa-26 --to bela").reason(), "DUE_UNDISCLOSED");
  Do("mira", "sac give rosa-26 --to bela --with-due");
  EXPECT_EQ(Say("bela", "sac accept rosa-26").reason(), "NOT_OFFERED") << "not arrived yet";
  Deliver();
  Do("bela", "sac accept rosa-26");
  Deliver();
  EXPECT_EQ(SlingsOf("bela", "split rosa-26 --preview"), 48);
}

TEST_F(ShareCommandTest, AKeeperWhoLeavesIsFollowed) {
  Count();
  Do("mira", "split rosa-26");
  Deliver();
  EXPECT_EQ(Say("bela", "keeper leave --keeper tomas --successor bela").reason(), "NOT_REGISTRAR");
  Do("tomas", "keeper leave --successor bela");
  Deliver();
  EXPECT_THAT(Do("mira", "keeper show tomas"), HasSubstr("bela"));
  EXPECT_THAT(Do("bela", "lot pass " + LotOf("tomas", "bela") + " --to bela"),
              HasSubstr("are bela's now"));
}

TEST_F(ShareCommandTest, PickingTakesTurnsThatNobodyGainsBy) {
  Do("mira", "sac laid rosa --name rosa-26");
  Do("mira", "count rosa-26 --living 6 --dead 0");
  const nlohmann::json order = Json("mira", "split rosa-26 --picking");
  EXPECT_EQ(order["picks"].size(), 6U);
  EXPECT_EQ(Say("mira", "split rosa-26 --picking --preview").reason(), "USAGE");
}

}  // namespace
}  // namespace broodpact::cli
