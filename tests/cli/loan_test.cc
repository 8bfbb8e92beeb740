// Goal: a loan can be offered, asked for, signed, carried out and ended from the command line; what
// is said is what is so. Method: three keepers, each with a replica of their own.

#include "cli/commands/loan.h"

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class LoanTest : public PairOfAnimalsTest {
 protected:
  std::string StateAt(const std::string& keeper, const std::string& loan = "rosa-loan") {
    return Json(keeper, "loan show " + loan)["state"];
  }
};

TEST_F(LoanTest, IsOfferedSignedCarriedOutAndClosed) {
  EXPECT_EQ(
      Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan --until 2027-03-01"),
      "Offered bh-m-07 to mira until 2027-03-01 (loan rosa-loan). Waiting for mira to sign.\n");
  Deliver();
  EXPECT_EQ(StateAt("mira"), "offered");
  EXPECT_THAT(Json("mira", "status")["tasks"].dump(), HasSubstr("sign or decline loan rosa-loan"));
  EXPECT_EQ(Do("mira", "loan accept rosa-loan"),
            "Signed: loan rosa-loan is in force. bh-m-07 is promised to mira.\n");
  Deliver();
  EXPECT_THAT(Do("tomas", "loan send rosa-loan"), HasSubstr("on its way to mira"));
  Deliver();
  EXPECT_THAT(Json("mira", "status")["tasks"].dump(), HasSubstr("receive bh-m-07 from tomas"));
  EXPECT_EQ(Do("mira", "loan receive rosa-loan --arrived well"),
            "bh-m-07 is with mira since 2026-11-25, and arrived well.\n");
  society_.clock().AdvanceDays(120);
  EXPECT_THAT(Json("mira", "status")["tasks"].dump(), HasSubstr("was due back to tomas"));
  Do("mira", "loan return rosa-loan");
  Deliver();
  Do("tomas", "loan receive rosa-loan");
  EXPECT_THAT(Do("tomas", "loan close rosa-loan"), HasSubstr("Loan rosa-loan is closed"));
  Deliver();
  EXPECT_EQ(StateAt("mira"), "closed");
  EXPECT_EQ(Json("mira", "animal show bh-m-07")["holder"]["name"], "tomas");
  EXPECT_EQ(Json("mira", "loan list")["loans"].size(), 0U);
  EXPECT_EQ(Json("mira", "loan list --all")["loans"].size(), 1U);
}

TEST_F(LoanTest, IsAskedForByWhoWouldBorrow) {
  EXPECT_EQ(Do("mira", "loan ask bh-m-07 --name rosa-loan"),
            "Asked tomas for bh-m-07 (loan rosa-loan). Waiting for tomas to sign.\n");
  Deliver();
  EXPECT_EQ(StateAt("tomas"), "asked for");
  Do("tomas", "loan accept rosa-loan");
  EXPECT_EQ(StateAt("tomas"), "in force");
}

TEST_F(LoanTest, WaitsForEveryNamedParty) {
  EXPECT_THAT(Do("tomas",
                 "loan offer bh-m-07 --to mira --name rosa-loan --share mira=2 "
                 "--share tomas=1 --first bela=5@40 --role bela=raiser"),
              HasSubstr("Waiting for mira and bela to sign."));
  Deliver();
  EXPECT_THAT(Do("mira", "loan accept rosa-loan"), HasSubstr("Waiting for bela to sign."));
  Deliver();
  Do("bela", "loan accept rosa-loan");
  EXPECT_EQ(StateAt("bela"), "in force");
  EXPECT_FALSE(Json("bela", "loan show rosa-loan")["clauses"].empty());
}

TEST_F(LoanTest, IsDeclinedWithAReason) {
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan");
  Deliver();
  Do("mira", "loan decline rosa-loan --reason \"she moulted\"");
  Deliver();
  EXPECT_EQ(StateAt("tomas"), "declined");
  EXPECT_EQ(Json("tomas", "loan show rosa-loan")["reason"], "she moulted");
}

TEST_F(LoanTest, IsSignedOrDeclinedInTheVersionThatIsNamedAlone) {
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan");
  Deliver();
  const std::string digest = Json("mira", "loan show rosa-loan")["agreement_digest"];
  const std::string other = digest.starts_with('0') ? "1" : "0";
  const Answer answer = Say("mira", "loan accept rosa-loan --version " + other);
  EXPECT_EQ(answer.reason(), "NO_VERSION");
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr(digest.substr(0, 8)));
  EXPECT_EQ(Say("mira", "loan decline rosa-loan --version " + other).reason(), "NO_VERSION");
  EXPECT_EQ(StateAt("mira"), "offered");
  Do("mira", "loan accept rosa-loan --version " + digest.substr(0, 8));
  EXPECT_EQ(StateAt("mira"), "in force");
}

TEST_F(LoanTest, WithoutANameGoesByItsId) {
  const std::string said = Do("tomas", "loan offer bh-m-07 --to mira");
  const nlohmann::json loan = Json("tomas", "loan list")["loans"][0];
  const std::string name = loan["name"];
  ASSERT_FALSE(name.empty());
  EXPECT_EQ(name, loan["id"].get<std::string>().substr(0, name.size()));
  EXPECT_THAT(said, HasSubstr("(loan " + name + ")"));
  Deliver();
  EXPECT_THAT(Json("mira", "status")["tasks"].dump(), HasSubstr("broodpact loan show " + name));
}

TEST_F(LoanTest, IsPreviewedAndNotRecorded) {
  const Answer answer =
      Say("tomas", "loan offer bh-m-07 --to mira --share mira=2 --share tomas=1 --preview 73");
  EXPECT_EQ(answer.out, "tomas\t24\t\nmira\t49\t\n");
  EXPECT_THAT(answer.messages, HasSubstr("Nothing is recorded"));
  EXPECT_EQ(Json("tomas", "loan list")["loans"].size(), 0U);
  EXPECT_EQ(Json("tomas", "loan offer bh-m-07 --to mira --preview 10")["slings_counted"], 10);
}

TEST_F(LoanTest, IsOfferedByTheOwnerAlone) {
  const Answer answer = Say("bela", "loan offer bh-m-07 --to mira");
  EXPECT_EQ(answer.exit_code(), ExitCode::kNotAllowed);
  EXPECT_THAT(std::string(answer.status.message()), HasSubstr("broodpact loan ask"));
  EXPECT_EQ(Say("tomas", "loan ask bh-m-07").reason(), "LENDER_IS_BORROWER");
  EXPECT_EQ(Say("tomas", "loan offer bh-m-07 --to tomas").reason(), "LENDER_IS_BORROWER");
}

TEST_F(LoanTest, IsNotDueBackBeforeToday) {
  EXPECT_EQ(Say("tomas", "loan offer bh-m-07 --to mira --until 2026-11-24").reason(), "DATE_PAST");
}

TEST_F(LoanTest, ThatIsSupersededSaysByWhatWhenItIsSigned) {
  Do("tomas", "loan offer bh-m-07 --to mira --name first");
  Do("tomas", "loan offer bh-m-07 --to bela --name second");
  Deliver();
  Do("mira", "loan accept first");
  Do("bela", "loan accept second");
  Deliver();
  const Answer answer = Say("tomas", "loan accept second");
  const std::string said = answer.out + std::string(answer.status.message());
  EXPECT_THAT(said, HasSubstr("superseded"));
  EXPECT_THAT(said, ::testing::Not(HasSubstr("Waiting for")));
  EXPECT_THAT(said, HasSubstr("was promised to mira by first"));
}

TEST_F(LoanTest, IsReceivedOnceAndTheFirstDayStands) {
  Lend();
  const std::string said = Do("mira", "loan receive rosa-loan --on 2026-11-24");
  EXPECT_EQ(
      said,
      "bh-m-07 is with mira since 2026-11-25: that entry stands, and 2026-11-24 is not taken.\n");
  EXPECT_EQ(Json("mira", "loan show rosa-loan")["receipt_day"], "2026-11-25");
}

TEST_F(LoanTest, CannotPromiseAMaleTwice) {
  Do("tomas", "loan offer bh-m-07 --to mira --name first");
  Do("tomas", "loan offer bh-m-07 --to bela --name second");
  Deliver();
  Do("mira", "loan accept first");
  Deliver();
  const Answer answer = Say("bela", "loan accept second");
  EXPECT_FALSE(answer.status.ok());
  EXPECT_EQ(answer.exit_code(), ExitCode::kUnsettled);
}

TEST_F(LoanTest, ShowsTwoOfflinePromisesAsAClash) {
  Do("tomas", "loan offer bh-m-07 --to mira --name first");
  Do("tomas", "loan offer bh-m-07 --to bela --name second");
  Deliver();
  Do("mira", "loan accept first");
  Do("bela", "loan accept second");  // neither knows of the other
  EXPECT_EQ(StateAt("bela", "second"), "in force");
  Deliver();
  // Whichever arrived first stands, everywhere alike.
  const std::string standing = StateAt("bela", "first") == "in force" ? "first" : "second";
  for (const char* keeper : {"tomas", "mira", "bela"}) {
    EXPECT_EQ(StateAt(keeper, standing), "in force");
    EXPECT_EQ(StateAt(keeper, standing == "first" ? "second" : "first"), "superseded");
  }
  EXPECT_THAT(Do("bela", "log --limit 5"), HasSubstr("superseded"));
}

TEST_F(LoanTest, CautionsWhoeverUnpacksOnATerminalOnly) {
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan");
  Deliver();
  Do("mira", "loan accept rosa-loan");
  Deliver();
  tty_ = true;
  EXPECT_THAT(Say("tomas", "loan send rosa-loan").messages, HasSubstr("ask your authority"));
  tty_ = false;
  Deliver();
  EXPECT_EQ(Say("mira", "loan receive rosa-loan").messages.find("eyes"), std::string::npos);
}

TEST_F(LoanTest, HasANameThatItsKeeperGaveToNoOtherOpenOne) {
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan");
  EXPECT_EQ(Say("tomas", "loan offer bh-m-07 --to bela --name rosa-loan").reason(), "NAME_TAKEN");
  Deliver();
  Do("mira", "loan decline rosa-loan");
  Deliver();
  Do("tomas", "loan offer bh-m-07 --to bela --name rosa-loan");
}

}  // namespace
}  // namespace broodpact::cli
