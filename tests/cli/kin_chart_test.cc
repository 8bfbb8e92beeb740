// Goal: keepers see a group's health and an animal's pedigree at the terminal, in a pipe and as a
// picture. Method: command lines on a small line with one shared ancestor.

#include "cli/commands/kin_chart.h"

#include <fstream>
#include <iterator>

#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

class KinChartTest : public PairOfAnimalsTest {
 protected:
  void SetUp() override {
    PairOfAnimalsTest::SetUp();
    Do("mira", "animal add karel --group hamorii-colima --sex male --sire bh-m-07 --dam rosa");
    Do("mira", "animal add anna --group hamorii-colima --sex female --sire bh-m-07");
    Do("mira", "animal add first --group hamorii-colima --sire karel --dam anna");
  }

  std::string FileIn(const std::string& name) { return (society_.folder() / name).string(); }

  static std::string TextOf(const std::string& file) {
    std::ifstream in(file);
    return {std::istreambuf_iterator<char>(in), {}};
  }
};

TEST_F(KinChartTest, IsATreeForAPersonWithEveryAnimalOnce) {
  tty_ = true;
  EXPECT_EQ(Do("mira", "kin chart first"),
            "first, F 0.1250\n"
            "├─ sire karel, male\n"
            "│  ├─ sire [4] bh-m-07, male, founder, by 2 lines\n"
            "│  └─ dam rosa, female, founder\n"
            "└─ dam anna, female\n"
            "   ├─ sire [4] bh-m-07, above\n"
            "   └─ dam not known\n");
}

TEST_F(KinChartTest, IsARowForEachNodeInAPipe) {
  const std::string out = Do("mira", "kin chart first");
  EXPECT_THAT(out, StartsWith("1\t0\tanimal\tfirst\t\t2\t3\t0.1250\t0.5625\t1\t1\t\n"));
  EXPECT_EQ(Json("mira", "kin chart first")["nodes"].size(), 5U);
  EXPECT_EQ(Json("mira", "kin chart first --generations 1")["nodes"].size(), 3U);
  EXPECT_EQ(Say("mira", "kin chart first --generations 13").exit_code(), ExitCode::kUsage);
}

TEST_F(KinChartTest, IsAPictureInTheFileAskedFor) {
  const Answer answer = Say("mira", "kin chart first --svg " + FileIn("first.svg"));
  EXPECT_TRUE(answer.status.ok()) << answer.status;
  EXPECT_EQ(answer.out, "");
  const std::string svg = TextOf(FileIn("first.svg"));
  EXPECT_THAT(svg, StartsWith("<?xml"));
  EXPECT_THAT(svg, HasSubstr(">by 2 lines</text>"));
  EXPECT_THAT(svg, ::testing::EndsWith("</svg>\n"));
}

TEST_F(KinChartTest, SaysWhereThePictureCannotBeWritten) {
  const Answer answer = Say("mira", "kin chart first --svg " + FileIn("no/such/folder.svg"));
  EXPECT_EQ(answer.reason(), "FILE_WRITE");
}

TEST_F(KinChartTest, LeavesKinOfTwoAnimalsAsItWas) {
  EXPECT_EQ(Json("mira", "kin karel anna")["kinship"], 0.125);
}

TEST_F(KinChartTest, OfAGroupIsItsHealth) {
  const std::string out = Do("mira", "group show hamorii-colima");
  EXPECT_THAT(out, HasSubstr("living\t5\n"));
  EXPECT_THAT(out, HasSubstr("founder\tbh-m-07\t"));
  EXPECT_THAT(out, HasSubstr("month\t2026-11\t1\t0\t\n"));
  EXPECT_THAT(out, Not(HasSubstr("nan")));
  tty_ = true;
  EXPECT_THAT(Do("mira", "group show hamorii-colima"), HasSubstr("MATURE MALES"));
  tty_ = false;
  EXPECT_TRUE(Say("mira", "group show hamorii-colima --svg " + FileIn("group.svg")).status.ok());
  EXPECT_THAT(TextOf(FileIn("group.svg")), HasSubstr("Mature animals by month"));
}

TEST_F(KinChartTest, OfAnEmptyGroupShowsThatNobodyLives) {
  Do("mira", "group add vagans --taxon \"Tliltocatl vagans\"");
  const std::string out = Do("mira", "group show vagans");
  EXPECT_THAT(out, HasSubstr("living\t0\n"));
  EXPECT_THAT(out, Not(HasSubstr("diversity")));
}

}  // namespace
}  // namespace broodpact::cli
