// Goal: what waits for a keeper is told with the command that does it, and to nobody else. Method:
// the tasks of `status` after each step of a loan and of a clutch.

#include "cli/commands/tasks.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

class TasksTest : public PairOfAnimalsTest {
 protected:
  std::vector<std::string> Tasks(const std::string& keeper) {
    return Json(keeper, "status")["tasks"].get<std::vector<std::string>>();
  }
  // The command of a task, as it is printed behind its last colon.
  static std::string CommandOf(const std::string& task) {
    constexpr std::string_view kProgram = "broodpact ";
    const std::size_t at = task.rfind(kProgram);
    return at == std::string::npos ? "" : task.substr(at + kProgram.size());
  }
  void Count() {
    Do("mira", "sac laid rosa --name rosa-26");
    Do("mira", "count rosa-26 --living 30 --dead 0");
    Deliver();
  }
};

TEST_F(TasksTest, OfTheLenderAreToSendWhatWasPromisedAndToCloseWhatIsHomeAgain) {
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan");
  Deliver();
  Do("mira", "loan accept rosa-loan");
  Deliver();
  EXPECT_THAT(Tasks("tomas"), ElementsAre("send bh-m-07 to mira: broodpact loan send rosa-loan"));
  EXPECT_THAT(Tasks("mira"), IsEmpty());
  Do("tomas", "loan send rosa-loan");
  EXPECT_THAT(Tasks("tomas"), IsEmpty());
  Deliver();
  Do("mira", "loan receive rosa-loan");
  Deliver();
  EXPECT_THAT(Tasks("tomas"), IsEmpty());
  Do("mira", "loan return rosa-loan");
  Deliver();
  Do("tomas", "loan receive rosa-loan");
  EXPECT_THAT(Tasks("tomas"), ElementsAre("bh-m-07 is home again: broodpact loan close rosa-loan"));
  Do("tomas", "loan close rosa-loan");
  EXPECT_THAT(Tasks("tomas"), IsEmpty());
}

TEST_F(TasksTest, OfWhoLentADeadMaleAreNotToSendIt) {
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan");
  Deliver();
  Do("mira", "loan accept rosa-loan");
  Deliver();
  Do("tomas", "animal died bh-m-07");
  EXPECT_THAT(Tasks("tomas"), ElementsAre("bh-m-07 is dead: broodpact loan close rosa-loan"));
}

TEST_F(TasksTest, HaveTheAmendmentThatWaitsForTheKeeper) {
  Lend();
  Do("mira", "loan amend rosa-loan --until 2027-05-01");
  Deliver();
  EXPECT_THAT(Tasks("tomas"),
              ElementsAre("sign or decline the amendment of loan rosa-loan by mira, as loan show "
                          "has it: broodpact loan accept rosa-loan"));
  EXPECT_THAT(Tasks("mira"), IsEmpty());
  EXPECT_THAT(Do("tomas", "owed"), HasSubstr("yes or no to the amendment of loan rosa-loan"));
  Do("tomas", CommandOf(Tasks("tomas").front()));
  EXPECT_THAT(Tasks("tomas"), IsEmpty());
  EXPECT_THAT(Do("tomas", "owed"), Not(HasSubstr("amendment")));
}

TEST_F(TasksTest, HaveTheAmendmentThatBringsAKeeperIn) {
  Lend("--share mira=2 --share tomas=1");
  Do("mira",
     "loan amend rosa-loan --share mira=2 --share tomas=1 --share bela=1 --role bela=raiser");
  Deliver();
  EXPECT_THAT(Tasks("bela"), ElementsAre(HasSubstr("broodpact loan accept rosa-loan")));
  EXPECT_THAT(Do("bela", "owed"), HasSubstr("yes or no to the amendment of loan rosa-loan"));
}

TEST_F(TasksTest, HaveTheAmendmentOfAClosedLoanWhoseClutchWaits) {
  Lend("--share mira=2 --share tomas=1");
  Count();
  Do("mira", "loan return rosa-loan");
  Deliver();
  Do("tomas", "loan receive rosa-loan");
  Do("tomas", "loan close rosa-loan");
  Deliver();
  Do("mira", "loan amend rosa-loan --share mira=1 --share tomas=1 --covers rosa-26");
  Deliver();
  EXPECT_THAT(Tasks("tomas"), ::testing::Contains(HasSubstr("broodpact loan accept rosa-loan")));
}

TEST_F(TasksTest, NameTheVersionWhereSeveralAmendmentsWait) {
  Lend();
  Do("mira", "loan amend rosa-loan --until 2027-05-01");
  Do("mira", "loan amend rosa-loan --until 2027-06-01");
  Deliver();
  const std::vector<std::string> tasks = Tasks("tomas");
  ASSERT_EQ(tasks.size(), 2U);
  EXPECT_THAT(tasks.front(), HasSubstr("loan accept rosa-loan --version "));
  EXPECT_EQ(Json("tomas", "owed")["entries"].size(), 3U) << "both, and the male";
  Do("tomas", CommandOf(tasks.front()));
}

TEST_F(TasksTest, TellOfTheAmendmentThatWouldShareAClutchOtherwise) {
  Lend("--share mira=2 --share tomas=1");
  Count();
  EXPECT_THAT(Tasks("mira"),
              ElementsAre("clutch rosa-26 is counted and not shared out: broodpact split rosa-26"));
  Do("mira", "loan amend rosa-loan --share mira=1 --share tomas=1 --covers rosa-26");
  EXPECT_THAT(Tasks("mira"),
              ElementsAre("clutch rosa-26 is counted and not shared out; an amendment of loan "
                          "rosa-loan that covers it waits for tomas, and the split would go by the "
                          "terms before it: broodpact loan show rosa-loan"));
}

TEST_F(TasksTest, OfTheWitnessAreToConfirmTheCountAndOfTheRestToWait) {
  Lend("--witness bela --share mira=2 --share tomas=1");
  Count();
  EXPECT_THAT(Tasks("bela"),
              ElementsAre("confirm the count of clutch rosa-26, 30 slings alive: broodpact witness "
                          "rosa-26"));
  EXPECT_THAT(Tasks("mira"), ElementsAre("clutch rosa-26 is counted and waits for bela to confirm "
                                         "the count: broodpact sac show rosa-26"));
  Do("bela", CommandOf(Tasks("bela").front()));
  EXPECT_THAT(Tasks("bela"), IsEmpty());
  Deliver();
  EXPECT_THAT(Tasks("mira"), ElementsAre(HasSubstr("broodpact split rosa-26")));
}

TEST_F(TasksTest, OfAWitnessWhoHasAShareAreToConfirmFirst) {
  Lend("--witness tomas --share mira=2 --share tomas=1");
  Count();
  EXPECT_THAT(Tasks("tomas"), ElementsAre(HasSubstr("broodpact witness rosa-26")));
}

TEST_F(TasksTest, ToReceiveSlingsHaveTheNumberAndWorkAsPrinted) {
  Lend("--share mira=2 --share tomas=1");
  Count();
  Do("mira", "split rosa-26");
  Do("mira", CommandOf(Tasks("mira").front()));
  Deliver();
  const std::vector<std::string> tasks = Tasks("tomas");
  EXPECT_THAT(tasks, ElementsAre(AllOf(
                         HasSubstr("receive 10 slings of clutch rosa-26 from mira, with the "
                                   "numbers that live and that are dead: broodpact lot receive "),
                         HasSubstr(" --living 10 --dead 0"))));
  EXPECT_EQ(Do("tomas", CommandOf(tasks.front())),
            "Received 10 slings of clutch rosa-26 alive, 0 dead.\n");
}

}  // namespace
}  // namespace broodpact::cli
