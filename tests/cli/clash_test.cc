// Goal: what keepers disagree on is seen by all of them, and ends by their signatures or by an
// arbiter's. Method: mira and tomas share rosa's clutch; each has a replica of their own.

#include "cli/commands/clash.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class ClashCommandTest : public PairOfAnimalsTest {
 protected:
  void SetUp() override {
    PairOfAnimalsTest::SetUp();
    Lend("--share mira=2 --share tomas=1");
    Do("mira", "sac laid rosa --name rosa-26");
    Deliver();
  }
  std::string OpenClash(const std::string& keeper) {
    const nlohmann::json list = Json(keeper, "clashes");
    return list["clashes"].empty() ? "" : list["clashes"][0]["id"].get<std::string>();
  }
};

TEST_F(ClashCommandTest, TwoCountsAtOnceAreSettledByAPersonWhoChooses) {
  Do("mira", "count rosa-26 --living 73 --dead 4");
  Do("tomas", "count rosa-26 --living 75 --dead 4");
  Deliver();
  const std::string id = OpenClash("tomas");
  ASSERT_FALSE(id.empty());
  EXPECT_EQ(OpenClash("mira"), id) << "both see it";
  EXPECT_THAT(Do("mira", "clash settle " + id + " --count tomas --words \"counted together\""),
              HasSubstr("settled when tomas has signed too"));
  Deliver();
  EXPECT_THAT(Do("tomas", "status"), HasSubstr("signature under a settlement"));
  EXPECT_THAT(Do("tomas", "clash sign " + id), HasSubstr("is settled: counted together."));
  Deliver();
  const nlohmann::json clutch = Json("mira", "sac show rosa-26");
  EXPECT_EQ(clutch["accounts"]["slings_undivided"], 75);
  EXPECT_EQ(clutch["counts"][1]["state"], "standing");
  EXPECT_EQ(clutch["clashes"][0]["state"], "settled") << "the subject still tells of it";
  EXPECT_EQ(OpenClash("mira"), "");
}

TEST_F(ClashCommandTest, SaysWhoHaveToSignWhereSeveralDo) {
  Do("mira",
     "loan amend rosa-loan --share mira=2 --share tomas=1 --share bela=1 "
     "--role bela=raiser --covers rosa-26");
  Deliver();
  Do("tomas", "loan accept rosa-loan");
  Do("bela", "loan accept rosa-loan");
  Deliver();
  Do("mira", "count rosa-26 --living 73 --dead 4");
  Do("tomas", "count rosa-26 --living 75 --dead 4");
  Deliver();
  EXPECT_THAT(Do("mira", "clash settle " + OpenClash("mira") + " --count tomas --words x"),
              ::testing::ContainsRegex("settled when [a-z]+ and [a-z]+ have signed too"));
}

TEST_F(ClashCommandTest, AnObjectionIsShownAndWithdrawn) {
  EXPECT_EQ(Say("tomas", "object rosa-26 --reason \"too few\"").reason(), "NOT_COUNTED");
  Do("mira", "count rosa-26 --living 73 --dead 4");
  Deliver();
  EXPECT_EQ(Say("bela", "object rosa-26 --reason \"too few\"").reason(), "NOT_PARTY");
  Do("tomas", "object rosa-26 --reason \"too few\"");
  Deliver();
  EXPECT_THAT(Do("mira", "sac show rosa-26"), HasSubstr("tomas objects to mira's count of 73"));
  EXPECT_THAT(Do("mira", "split rosa-26"), HasSubstr("Shared out"));
  Do("tomas", "clash withdraw " + OpenClash("tomas") + " --reason \"my mistake\"");
  Deliver();
  EXPECT_EQ(OpenClash("mira"), "");
}

TEST_F(ClashCommandTest, PartiesMayShareOtherwiseThanByTheTerms) {
  Do("mira", "count rosa-26 --living 73 --dead 4");
  Do("mira", "object rosa-26 --to split --reason \"we said half\"");
  Deliver();
  const std::string id = OpenClash("tomas");
  EXPECT_EQ(Say("tomas", "clash settle " + id + " --words x --share iva=3").reason(),
            "UNKNOWN_SUBJECT");
  EXPECT_EQ(Say("tomas", "clash settle " + id + " --words x --share mira").reason(), "USAGE");
  Do("tomas", "clash settle " + id + " --words half --share mira=37 --share tomas=36");
  Deliver();
  Do("mira", "clash sign " + id);
  Deliver();
  const nlohmann::json split = Json("tomas", "split rosa-26 --preview");
  EXPECT_TRUE(split["recorded"]);
  EXPECT_EQ(split["parts"][0]["slings"].get<int>() + split["parts"][1]["slings"].get<int>(), 73);
  EXPECT_THAT(Do("tomas", "clash show " + id), HasSubstr("settled"));
}

TEST_F(ClashCommandTest, WithNothingProposedThereIsNothingToSign) {
  Do("mira", "count rosa-26 --living 73 --dead 4");
  Do("mira", "object rosa-26 --reason no");
  Deliver();
  EXPECT_EQ(Say("tomas", "clash sign " + OpenClash("tomas")).reason(), "NOTHING_TO_SIGN");
  EXPECT_EQ(Say("tomas", "clash show nope").reason(), "UNKNOWN_SUBJECT");
}

}  // namespace
}  // namespace broodpact::cli
