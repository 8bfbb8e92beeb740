// Goal: a person reads aligned columns within the width of the terminal, a program reads whole
// values between tabs, and no text of another keeper can move the cursor or break a row. Method:
// examples with names that are long, not ASCII, and hostile.

#include "cli/terminal/table.h"

#include <sstream>

#include <gtest/gtest.h>

namespace broodpact::cli {
namespace {

class TableTest : public ::testing::Test {
 protected:
  std::ostringstream out_;
  std::ostringstream messages_;
  Terminal terminal_{.out = out_, .messages = messages_};
};

TEST_F(TableTest, IsTabsWithoutHeaderWhenNobodyWatches) {
  PrintTable(terminal_, {"KEEPER", "SLINGS"}, {{"mira", "48"}, {"tomas", "24"}});
  EXPECT_EQ(out_.str(), "mira\t48\ntomas\t24\n");
}

TEST_F(TableTest, IsAlignedUnderItsHeaderForAPerson) {
  terminal_.out_is_tty = true;
  PrintTable(terminal_, {"KEEPER", "SLINGS"}, {{"mira", "48"}, {"tomas", "24"}});
  EXPECT_EQ(out_.str(),
            "KEEPER  SLINGS\n"
            "mira    48\n"
            "tomas   24\n");
}

TEST_F(TableTest, AlignsNamesByCodePointsAndNotByBytes) {
  terminal_.out_is_tty = true;
  PrintTable(terminal_, {"KEEPER", "SLINGS"}, {{"Zoë", "1"}, {"Bela", "2"}});
  EXPECT_EQ(out_.str(),
            "KEEPER  SLINGS\n"
            "Zoë     1\n"
            "Bela    2\n");
}

TEST_F(TableTest, CutsTheWidestColumnToTheTerminalAndNoOther) {
  terminal_.out_is_tty = true;
  terminal_.width = 40;
  PrintTable(terminal_, {"A", "B"}, {{"short", std::string(60, 'x')}});
  const std::string row = out_.str().substr(out_.str().find('\n') + 1);
  EXPECT_EQ(row, "short  " + std::string(32, 'x') + "…\n");
}

TEST_F(TableTest, NeverCutsForAProgram) {
  terminal_.width = 40;
  PrintTable(terminal_, {"A"}, {{std::string(60, 'x')}});
  EXPECT_EQ(out_.str(), std::string(60, 'x') + "\n");
}

TEST_F(TableTest, MakesControlCharactersOfOthersHarmless) {
  PrintTable(terminal_, {"A", "B"}, {{"a\tb\x1b[2J", "c\nd\xC2\x9B"}});
  EXPECT_EQ(out_.str(), "a?b?[2J\tc?d?\n");
}

TEST_F(TableTest, PrintsNothingForNoRows) {
  terminal_.out_is_tty = true;
  PrintTable(terminal_, {"A"}, {});
  EXPECT_EQ(out_.str(), "");
}

TEST_F(TableTest, LeavesOutFieldsThatAreNotKnown) {
  terminal_.out_is_tty = true;
  PrintFields(terminal_, {{"animal", "rosa"}, {"died", ""}, {"sex", "female"}});
  EXPECT_EQ(out_.str(),
            "animal  rosa\n"
            "sex     female\n");
}

TEST_F(TableTest, ColoursOnlyWhereColourIsWanted) {
  EXPECT_EQ(Toned(terminal_, Tone::kInTheWay, "x"), "x");
  terminal_.colour = true;
  EXPECT_EQ(Toned(terminal_, Tone::kInTheWay, "x"), "\x1b[31mx\x1b[0m");
}

TEST_F(TableTest, CautionsOnlyAPerson) {
  Caution(terminal_, "protect your eyes");
  EXPECT_EQ(messages_.str(), "");
  terminal_.messages_are_tty = true;
  Caution(terminal_, "protect your eyes");
  EXPECT_EQ(messages_.str(), "protect your eyes\n");
}

}  // namespace
}  // namespace broodpact::cli
