// Goal: a search says where a male is, for his owner, for who has him on loan and for others.
// Method: one male on loan, looked for at each step of the loan by three keepers.

#include "cli/commands/find.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

class FindTest : public PairOfAnimalsTest {
 protected:
  std::string Availability(const std::string& keeper) {
    return Json(keeper, "find male --for mira/rosa")["matches"][0]["availability"];
  }
  bool IsFree(const std::string& keeper) {
    return Say(keeper, "find male --for mira/rosa --free").status.ok();
  }
};

TEST_F(FindTest, AMaleOnLoanIsWhereItsHolderIs) {
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan --until 2027-03-01");
  Deliver();
  Do("mira", "loan accept rosa-loan");
  Deliver();
  EXPECT_EQ(Availability("mira"), "promised to you until 2027-03-01");
  EXPECT_EQ(Availability("bela"), "promised until 2027-03-01");
  Do("tomas", "loan send rosa-loan");
  Deliver();
  EXPECT_EQ(Availability("mira"), "on his way to you, on loan until 2027-03-01");
  Do("mira", "loan receive rosa-loan");
  Deliver();
  EXPECT_EQ(Availability("mira"), "on loan to you until 2027-03-01");
  EXPECT_TRUE(IsFree("mira"));
  EXPECT_FALSE(IsFree("bela"));
}

TEST_F(FindTest, AMaleThatIsHomeAgainIsWithItsOwnerWhateverTheLoanSays) {
  Lend();
  Do("mira", "loan return rosa-loan");
  Deliver();
  EXPECT_EQ(Availability("mira"), "on his way back to tomas; loan rosa-loan is still open");
  EXPECT_EQ(Availability("bela"), "on his way back to tomas; loan rosa-loan is still open");
  Do("tomas", "loan receive rosa-loan");
  Deliver();
  for (const char* const keeper : {"tomas", "mira", "bela"}) {
    EXPECT_EQ(Availability(keeper), "home; loan rosa-loan is still open") << keeper;
    EXPECT_TRUE(IsFree(keeper)) << keeper;
  }
}

TEST_F(FindTest, MalesOfWhoHasLeftAreNotThere) {
  Do("tomas", "keeper quit --yes");
  Deliver();
  EXPECT_EQ(Say("mira", "find male --for rosa").reason(), "NO_MATCH");
}

}  // namespace
}  // namespace broodpact::cli
