// Goal: sealed text is written and read by commands, and stands in nothing that others see or that
// a keeper prints: lists, the log, sheets, searches, in any form. Method: three keepers, each with
// a replica of their own; every command that shows anything is run and looked through.

#include "client/replica/sealed_care.h"
#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

class SealedTest : public PairOfAnimalsTest {
 protected:
  void SetUp() override {
    PairOfAnimalsTest::SetUp();
    for (const char* keeper : {"mira", "tomas", "bela"}) {
      EXPECT_TRUE(replica::CareForSealed(society_.At(keeper)).ok());
    }
    society_.Deliver();
  }

  // The text of the only note about a subject that is open to a keeper; empty where none is.
  std::string TextFor(const std::string& keeper, const std::string& subject) {
    const nlohmann::json shown = Json(keeper, "sealed show " + subject);
    for (const auto& note : shown["notes"]) {
      if (note["state"] == "open") return note["text"];
    }
    return "";
  }
};

TEST_F(SealedTest, IsWrittenAndShownToItsReaders) {
  const std::string said =
      Do("mira", "sealed write rosa \"north of Xalitla\" --field locality --for tomas");
  EXPECT_EQ(said, "Sealed the locality of rosa to your devices and those of tomas.\n");
  Deliver();
  EXPECT_EQ(TextFor("mira", "rosa"), "north of Xalitla");
  EXPECT_EQ(TextFor("tomas", "rosa"), "north of Xalitla");
  EXPECT_EQ(TextFor("bela", "rosa"), "");
  const nlohmann::json note = Json("bela", "sealed show rosa")["notes"][0];
  EXPECT_EQ(note["state"], "closed");
  EXPECT_EQ(note["field"], "locality");
  EXPECT_EQ(note["subject_kind"], "animal");
  EXPECT_EQ(note["keeper"]["name"], "mira");
  EXPECT_EQ(note["readers"][0]["name"], "tomas");
}

TEST_F(SealedTest, IsReadFromStandardInputAndPutOnOneLine) {
  input_ = "Lipowa 3\r\n30-001 Krakow\n";
  Do("mira", "sealed write mira - --field address");
  EXPECT_EQ(TextFor("mira", "mira"), "Lipowa 3 / 30-001 Krakow");
  input_ = "";
  EXPECT_EQ(Say("mira", "sealed write mira --field address").reason(), "TEXT_EMPTY");
}

TEST_F(SealedTest, IsWrittenByThoseWhoseFieldItIs) {
  const Answer refused = Say("tomas", "sealed write rosa \"here\" --field locality");
  EXPECT_EQ(refused.reason(), "NOT_YOURS_TO_SEAL");
  EXPECT_EQ(refused.exit_code(), ExitCode::kNotAllowed);
  const Answer other = Say("mira", "sealed write rosa \"here\" --field address --kind animal");
  EXPECT_EQ(other.reason(), "FIELD_OTHER");
  EXPECT_THAT(std::string(other.status.message()), HasSubstr("--kind can be keeper"));
  EXPECT_EQ(Say("mira", "sealed write rosa \"here\" --field colour").reason(), "USAGE");
}

TEST_F(SealedTest, ThatIsFarTooLongIsNotSaidToHaveTheSizeThatWasRead) {
  input_ = std::string(9'000, 'a');
  const Answer refused = Say("mira", "sealed write mira --field address");
  EXPECT_EQ(refused.reason(), "NAME_TOO_LONG");
  EXPECT_THAT(std::string(refused.status.message()), HasSubstr("more than 4096 bytes"));
  input_ = std::string(3'000, 'a');
  EXPECT_THAT(std::string(Say("mira", "sealed write mira --field address").status.message()),
              HasSubstr("has 3000 bytes"));
}

TEST_F(SealedTest, IsSharedOnceWithTheSameKeeper) {
  Do("mira", "sealed write rosa \"north of Xalitla\" --field locality");
  Do("mira", "sealed share rosa --field locality --for bela");
  EXPECT_THAT(Do("mira", "sealed share rosa --field locality --for bela"),
              HasSubstr("is sealed to your devices and those of bela already"));
  EXPECT_EQ(Json("mira", "sealed list")["notes"].size(), 2U);
  Do("mira", "sealed share rosa --field locality --for bela --until 2026-12-31");
}

TEST_F(SealedTest, IsForOthersThanItsAuthor) {
  EXPECT_EQ(Say("mira", "sealed write rosa \"here\" --field locality --for mira").reason(),
            "READER_ITSELF");
  Do("mira", "sealed write rosa \"here\" --field locality");
  EXPECT_EQ(Say("mira", "sealed share rosa --field locality --for mira").reason(), "READER_ITSELF");
}

TEST_F(SealedTest, IsSharedListedAndTakenBack) {
  Do("mira", "sealed write rosa \"north of Xalitla\" --field locality");
  EXPECT_THAT(Do("mira", "sealed share rosa --field locality --for bela --until 2026-12-31"),
              HasSubstr("your devices and those of bela, until 2026-12-31 as well"));
  Deliver();
  EXPECT_EQ(TextFor("bela", "rosa"), "north of Xalitla");
  const nlohmann::json notes = Json("mira", "sealed list")["notes"];
  ASSERT_EQ(notes.size(), 2U);
  for (const auto& note : notes) EXPECT_EQ(note["text"], "") << "a list has no texts";
  society_.clock().AdvanceDays(60);
  EXPECT_EQ(TextFor("bela", "rosa"), "");
  EXPECT_EQ(Json("bela", "sealed show rosa")["notes"].size(), 2U);
  Do("mira", "sealed withdraw rosa --field locality");
  EXPECT_TRUE(Json("mira", "sealed list")["notes"].empty());
  const Answer nothing = Say("mira", "sealed withdraw rosa --field locality");
  EXPECT_EQ(nothing.reason(), "NO_NOTE");
  EXPECT_EQ(nothing.exit_code(), ExitCode::kNothing);
}

TEST_F(SealedTest, OfAnAddressOpensWithTheSignatureThatPutsALoanInForce) {
  Do("mira", "sealed write mira \"Lipowa 3\" --field address");
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan");
  Deliver();
  EXPECT_THAT(Do("mira", "loan accept rosa-loan"),
              HasSubstr("Your address is open to tomas until 2026-12-25."));
  Deliver();
  EXPECT_EQ(TextFor("tomas", "mira"), "Lipowa 3");
  EXPECT_EQ(Json("tomas", "sealed show mira")["notes"].size(), 1U) << "no row for what is closed";
  EXPECT_EQ(TextFor("bela", "mira"), "");
}

TEST_F(SealedTest, NamesThatTwoKindsHaveAreToldApart) {
  Do("mira", "animal add bela --group hamorii-colima");
  EXPECT_EQ(Say("mira", "sealed show bela").reason(), "AMBIGUOUS_SUBJECT");
  Do("mira", "sealed show bela --kind keeper");
}

TEST_F(SealedTest, StandsInNothingThatIsListedLoggedSearchedOrPrinted) {
  Lend();
  Do("mira", "sealed write rosa \"XALITLA-1\" --field locality --for tomas");
  Do("mira", "sealed write mira \"XALITLA-2\" --field address");
  Do("mira", "sealed write rosa-loan \"XALITLA-3\" --field price");
  Do("mira", "sealed write rosa \"XALITLA-4\" --field note");
  Do("mira", "sealed write hamorii-colima \"XALITLA-5\" --field locality --kind group");
  Deliver();
  for (const char* keeper : {"mira", "tomas", "bela"}) {
    for (const char* command :
         {"log", "status", "animal list", "animal show rosa", "keeper list", "keeper show mira",
          "group list", "group show hamorii-colima", "loan list", "loan show rosa-loan",
          "loan sheet rosa-loan --out -", "clashes", "owed", "sealed list", "device list",
          "find male --for rosa", "plan hamorii-colima", "want list", "kin chart rosa"}) {
      const std::string name = command;
      const bool has_json = name.find("sheet") == std::string::npos;
      for (const std::string& line : {name, has_json ? name + " --json" : name}) {
        const Answer answer = Say(keeper, line);
        EXPECT_THAT(answer.out, Not(HasSubstr("XALITLA"))) << keeper << ": " << line;
        EXPECT_THAT(answer.messages, Not(HasSubstr("XALITLA"))) << keeper << ": " << line;
        if (std::string(keeper) == "mira") {
          EXPECT_NE(answer.exit_code(), ExitCode::kUsage) << line << ": " << answer.status;
        }
      }
    }
  }
  EXPECT_THAT(Do("bela", "log"), HasSubstr("wrote a sealed locality of animal rosa"));
  EXPECT_EQ(TextFor("tomas", "rosa-loan"), "XALITLA-3");
}

}  // namespace
}  // namespace broodpact::cli
