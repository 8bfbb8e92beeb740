// Goal: what keepers sign they can see before, save, print and check: findings, saved terms,
// previews by any method, curves and sheets. Method: three keepers, each with a replica of their
// own; a page is written, spoilt and checked.

#include <fstream>
#include <sstream>

#include "cli/show/curve.h"
#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;

class AgreementTest : public PairOfAnimalsTest {
 protected:
  // A file of this test.
  static std::string PathOf(const std::string& name) {
    const auto* const test = ::testing::UnitTest::GetInstance()->current_test_info();
    return ::testing::TempDir() + test->name() + "-" + name;
  }

  static std::string ReadAll(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
  }

  static void WriteAll(const std::string& path, const std::string& text) {
    std::ofstream(path, std::ios::binary) << text;
  }

  // Mira has a counted clutch of the loan.
  void Count(const std::string& terms = "--share mira=2 --share tomas=1") {
    Lend(terms);
    Do("mira", "sac laid rosa --name rosa-26");
    Do("mira", "count rosa-26 --living 73 --dead 4");
    Deliver();
  }
};

TEST_F(AgreementTest, IsNotSignedWhileItContradictsUnlessThatIsSaid) {
  const std::string offer =
      "loan offer bh-m-07 --to mira --name rosa-loan --first mira=60% --first tomas=60%";
  const Answer refused = Say("tomas", offer);
  EXPECT_EQ(refused.reason(), "TERMS_CONTRADICT");
  EXPECT_THAT(refused.messages, HasSubstr("Wrong: The claims add up to 120 %"));
  EXPECT_EQ(Json("tomas", "loan list")["loans"].size(), 0U) << "nothing is recorded";
  Do("tomas", offer + " --as-is");
  Deliver();
  EXPECT_EQ(Json("mira", "loan show rosa-loan")["findings"][0]["severity"], "wrong");
  EXPECT_EQ(Say("mira", "loan accept rosa-loan").reason(), "TERMS_CONTRADICT");
  Do("mira", "loan accept rosa-loan --as-is");
}

TEST_F(AgreementTest, NamesWhatIsNotSaid) {
  EXPECT_THAT(Say("tomas", "loan offer bh-m-07 --to mira --preview 10").messages,
              HasSubstr("Note: Not said"));
}

TEST_F(AgreementTest, RefusesTermsOutOfBoundsBeforeAnythingIsComputed) {
  for (const char* const terms :
       {"--share mira=2000000 --share tomas=1 --carry quota", "--share mira=1 --share mira=2",
        "--share mira=1000000 --share tomas=1 --carry quota"}) {
    const std::string offer = std::string("loan offer bh-m-07 --to mira ") + terms;
    EXPECT_FALSE(Say("tomas", offer).status.ok()) << terms;
    EXPECT_FALSE(Say("tomas", offer + " --preview 9").status.ok()) << terms;
    EXPECT_FALSE(Say("tomas", offer + " --curve 0..9").status.ok()) << terms;
  }
}

TEST_F(AgreementTest, IsMadeOnSavedTerms) {
  EXPECT_EQ(Do("bela",
               "terms save usual --first cooperative=10%..20 --share male-owner=1 --share "
               "female-owner=1 --carry quota"),
            "Terms usual are saved, version 1.\n");
  Deliver();
  EXPECT_EQ(Json("mira", "terms list")["forms"].size(), 1U);
  EXPECT_THAT(Do("mira", "terms show usual"),
              HasSubstr("First, the cooperative gets 10 % of what is left, at most 20 slings"));
  EXPECT_EQ(Say("tomas", "loan offer bh-m-07 --to mira --form usual").reason(),
            "FORM_ROLE_MISSING");
  Do("tomas", "loan offer bh-m-07 --to mira --name rosa-loan --form usual --role bela=cooperative");
  const nlohmann::json loan = Json("tomas", "loan show rosa-loan");
  EXPECT_EQ(loan["signers"].size(), 3U);
  EXPECT_THAT(loan["clauses"].dump(), HasSubstr("quota method"));
  EXPECT_EQ(Say("tomas", "loan offer bh-m-07 --to mira --form nothing").reason(),
            "UNKNOWN_SUBJECT");
}

TEST_F(AgreementTest, SavesANewVersionOnlyWhenThatIsSaid) {
  Do("bela", "terms save usual");
  EXPECT_EQ(Say("bela", "terms save usual --carry quota").reason(), "NAME_TAKEN");
  EXPECT_EQ(Do("bela", "terms save usual --carry quota --replace"),
            "Terms usual are saved, version 2.\n");
  EXPECT_EQ(
      Say("bela", "terms save other --first male-owner=60% --first female-owner=60%").reason(),
      "TERMS_CONTRADICT");
}

TEST_F(AgreementTest, IsPreviewedByAnyMethodAndCarry) {
  Count();
  const nlohmann::json adams = Json("mira", "split rosa-26 --preview --count 2 --method adams");
  EXPECT_EQ(adams["parts"][0]["slings"], 1);
  EXPECT_EQ(adams["parts"][1]["slings"], 1);
  EXPECT_THAT(adams["working"].dump(), HasSubstr("Adams's method"));
  EXPECT_THAT(Json("mira", "split rosa-26 --preview --carry chairman")["working"].dump(),
              HasSubstr("chairman assignment of Tijdeman"));
  EXPECT_EQ(Say("mira", "split rosa-26 --method adams").reason(), "USAGE");
  EXPECT_EQ(Say("mira", "split rosa-26 --svg x.svg").reason(), "USAGE");
}

TEST_F(AgreementTest, ShowsWhatEachGetsOfClutchesOfManySizes) {
  Count();
  EXPECT_EQ(Do("mira", "split rosa-26 --curve 3..5"), "3\t1\t2\n4\t1\t3\n5\t2\t3\n");
  const std::string svg = PathOf("curve.svg");
  EXPECT_THAT(Say("tomas", "loan offer bh-m-07 --to mira --curve 0..50 --svg " + svg).messages,
              HasSubstr("The curve is drawn in"));
  EXPECT_THAT(ReadAll(svg), HasSubstr("<polyline"));
  EXPECT_EQ(Say("mira", "split rosa-26 --curve 5..3").reason(), "USAGE");
  tty_ = true;
  const std::string chart = Do("mira", "split rosa-26 --curve 0..60");
  EXPECT_THAT(chart, HasSubstr("a  tomas"));
  EXPECT_THAT(chart, HasSubstr("slings counted"));
}

TEST_F(AgreementTest, CarriesRemaindersOverToTheNextClutch) {
  Count("--carry quota --share mira=1 --share tomas=1");
  Do("mira", "split rosa-26");
  Do("mira", "sac laid rosa --name rosa-27");
  Do("mira", "count rosa-27 --living 3 --dead 0");
  const nlohmann::json split = Json("mira", "split rosa-27 --preview");
  EXPECT_EQ(split["carried_slings"], 73);
  Do("mira", "split rosa-27");
  const nlohmann::json first = Json("mira", "split rosa-26 --preview");
  const nlohmann::json second = Json("mira", "split rosa-27 --preview");
  for (std::size_t i = 0; i < 2; ++i) {
    EXPECT_EQ(first["parts"][i]["slings"].get<int>() + second["parts"][i]["slings"].get<int>(), 38);
  }
}

TEST_F(AgreementTest, WaitsForItsWitness) {
  Count("--witness bela --share mira=2 --share tomas=1");
  EXPECT_EQ(Say("mira", "split rosa-26").reason(), "WITNESS_MISSING");
  EXPECT_EQ(Do("bela", "witness rosa-26"), "The count of clutch rosa-26 is confirmed.\n");
  Deliver();
  EXPECT_THAT(Do("mira", "split rosa-26"), HasSubstr("Shared out"));
}

TEST_F(AgreementTest, OnAPageHasItsCurveAndIsCheckedClauseByClause) {
  Count();
  const std::string page = PathOf("loan.html");
  Do("mira", "loan sheet rosa-loan --out " + page);
  EXPECT_THAT(ReadAll(page), HasSubstr("The clutch is shared 2 : 1 between mira and tomas."));
  EXPECT_THAT(ReadAll(page), HasSubstr("<polyline"));
  EXPECT_THAT(Do("tomas", "loan check " + page), HasSubstr("says what this replica says"));
  std::string spoilt = ReadAll(page);
  spoilt.replace(spoilt.find("2 : 1 between"), 5, "1 : 1");
  WriteAll(page, spoilt);
  EXPECT_EQ(Say("tomas", "loan check " + page).reason(), "SHEET_DIFFERS");
  EXPECT_EQ(Say("mira", "loan sheet rosa-loan --curve 5..3 --out " + page).reason(), "USAGE");
}

TEST_F(AgreementTest, IsAmendedByTheSameClausesAndFindings) {
  Lend("--share mira=2 --share tomas=1");
  const std::string amend = "loan amend rosa-loan --first mira=60% --first tomas=60%";
  EXPECT_EQ(Say("mira", amend).reason(), "TERMS_CONTRADICT");
  EXPECT_THAT(Do("mira", "loan amend rosa-loan --carry quota --preview 9"), HasSubstr("mira"));
  Do("mira", amend + " --as-is");
  Deliver();
  const nlohmann::json loan = Json("tomas", "loan show rosa-loan");
  EXPECT_EQ(loan["versions"][0]["findings"][0]["severity"], "wrong");
  EXPECT_EQ(Say("tomas", "loan accept rosa-loan").reason(), "TERMS_CONTRADICT");
  EXPECT_THAT(Do("tomas", "loan accept rosa-loan --as-is"), HasSubstr("are in force"));
}

TEST(Chart, ShowsScalesAndALetterForEachParty) {
  v1::SplitCurve curve;
  for (std::uint32_t size = 0; size <= 40; ++size) curve.add_slings_counted(size);
  for (const char* const name : {"mira", "tomas"}) {
    v1::CurveLine& line = *curve.add_lines();
    line.mutable_keeper()->set_name(name);
    for (std::uint32_t size = 0; size <= 40; ++size) {
      line.add_slings(std::string(name) == "mira" ? size : size / 2);
    }
  }
  const std::string chart = ChartOf(curve, 60);
  EXPECT_THAT(chart, HasSubstr("    40 |"));
  EXPECT_THAT(chart, HasSubstr("b  tomas"));
  EXPECT_THAT(chart, HasSubstr("*"));
  EXPECT_EQ(ChartOf(v1::SplitCurve(), 60), "");
}

}  // namespace
}  // namespace broodpact::cli
