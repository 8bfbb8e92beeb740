// Goal: a keeper sees at once what is owed, by whom, since when, and what is overdue.
// Method: a loan, a clutch and its handovers between mira and tomas.

#include "cli/commands/owed.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::UnorderedElementsAre;

class OwedTest : public PairOfAnimalsTest {
 protected:
  std::vector<std::string> Kinds(const std::string& keeper, const std::string& line = "owed") {
    std::vector<std::string> kinds;
    nlohmann::json list = Json(keeper, line);
    for (const auto& entry : list["entries"]) {
      kinds.push_back(entry["debtor"]["name"].get<std::string>() + " " +
                      entry["kind"].get<std::string>());
    }
    return kinds;
  }
};

TEST_F(OwedTest, NothingIsOwedAtFirst) {
  EXPECT_TRUE(Kinds("mira").empty());
}

TEST_F(OwedTest, ASignatureThenAReceiptThenTheMaleIsOwed) {
  Do("tomas", "loan offer bh-m-07 --to mira --name L1 --until 2026-12-20");
  Deliver();
  EXPECT_EQ(Kinds("mira"), (std::vector<std::string>{"mira signature"}));
  EXPECT_EQ(Kinds("tomas"), (std::vector<std::string>{"mira signature"}));
  Do("mira", "loan accept L1");
  Deliver();
  Do("tomas", "loan send L1");
  Deliver();
  EXPECT_EQ(Kinds("tomas"), (std::vector<std::string>{"mira receipt"}));
  Do("mira", "loan receive L1");
  Deliver();
  EXPECT_EQ(Kinds("tomas"), (std::vector<std::string>{"mira return"}));
  const nlohmann::json late = Json("tomas", "owed --on 2026-12-25 --overdue");
  ASSERT_EQ(late["entries"].size(), 1U);
  EXPECT_EQ(late["entries"][0]["overdue_days"], 5);
  EXPECT_EQ(Kinds("tomas", "owed --overdue --on 2026-12-20").size(), 0U) << "due that day still";
}

TEST_F(OwedTest, SlingsAreOwedUntilTheyAreHandedOverAndAddUpByPair) {
  Lend();
  Do("mira", "sac laid rosa --name rosa-26");
  Do("mira", "count rosa-26 --living 20 --dead 0");
  Deliver();
  EXPECT_THAT(Kinds("tomas"), UnorderedElementsAre("mira return", "mira split"));
  Do("mira", "split rosa-26");
  Deliver();
  const nlohmann::json list = Json("tomas", "owed --with mira");
  ASSERT_EQ(list["balances"].size(), 1U);
  EXPECT_EQ(list["balances"][0]["first"]["name"], "mira");
  EXPECT_EQ(list["balances"][0]["slings_of_first"], 10);
  EXPECT_TRUE(Kinds("bela").empty());
  EXPECT_TRUE(Kinds("tomas", "owed --with bela").empty());
  EXPECT_THAT(Do("mira", "owed"), HasSubstr("10 slings of clutch rosa-26 to hand over"));
}

}  // namespace
}  // namespace broodpact::cli
