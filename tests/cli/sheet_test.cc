// Goal: a sheet says what the registry says, can be checked by anybody with a replica, and a sheet
// that says otherwise is found out. Method: sheets as files, marks changed by hand.

#include "cli/sheets/sheet.h"

#include <filesystem>
#include <fstream>
#include <iterator>

#include "cli/sheets/html.h"
#include "cli/sheets/pdf.h"
#include "cli/sheets/qr.h"
#include "tests/cli/testing/cli_test.h"

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

std::string ReadAll(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

class SheetTest : public PairOfAnimalsTest {
 protected:
  void SetUp() override {
    PairOfAnimalsTest::SetUp();
    folder_ = (society_.folder() / "sheets").string();
    std::filesystem::create_directories(folder_);
    Lend("--share mira=2 --share tomas=1");
  }
  std::string File(const std::string& name) const { return folder_ + "/" + name; }

  std::string folder_;
};

TEST_F(SheetTest, AnAgreementSheetIsCheckedByAnyParty) {
  for (const char* name : {"loan.pdf", "loan.html"}) {
    Do("mira", "loan sheet rosa-loan --out " + File(name));
    EXPECT_THAT(Do("tomas", "loan check " + File(name)), HasSubstr("says what this replica says"));
  }
  const std::string html = ReadAll(File("loan.html"));
  EXPECT_THAT(html, HasSubstr("<svg class=\"qr\""));
  EXPECT_THAT(html, HasSubstr("mira"));
  EXPECT_EQ(ReadAll(File("loan.pdf")).substr(0, 5), "%PDF-");
}

TEST_F(SheetTest, ASheetWithAnotherDigestIsFoundOut) {
  Do("mira", "loan sheet rosa-loan --out " + File("loan.html"));
  std::string html = ReadAll(File("loan.html"));
  const SheetMark mark = *MarkIn(html);
  SheetMark other = mark;
  other.digest[0] = other.digest[0] == 'a' ? 'b' : 'a';
  EXPECT_EQ(Say("tomas", "loan check " + TextOf(other)).reason(), "SHEET_DIFFERS");
  EXPECT_TRUE(Say("tomas", "loan check " + TextOf(mark)).status.ok()) << "as a QR reader has it";
}

TEST_F(SheetTest, ASettlementSheetOutlivesTheSlings) {
  Do("mira", "sac laid rosa --name rosa-26");
  Do("mira", "count rosa-26 --living 72 --dead 4");
  EXPECT_EQ(Say("mira", "split sheet rosa-26 --out " + File("s.html")).reason(), "NOT_SHARED_OUT");
  Do("mira", "split rosa-26");
  Do("mira", "split sheet rosa-26 --out " + File("s.html"));
  Do("mira", "lot lose rosa-26 --slings 2 --cause moult");
  Deliver();
  Do("tomas", "split check " + File("s.html"));
  EXPECT_EQ(Say("tomas", "loan check " + File("s.html")).reason(), "SHEET_FORM");
  EXPECT_THAT(ReadAll(File("s.html")), HasSubstr("48"));
}

TEST_F(SheetTest, WhatIsNoSheetIsNone) {
  EXPECT_EQ(Say("mira", "loan check " + File("nothing.pdf")).reason(), "FILE_READ");
  EXPECT_EQ(Say("mira", "loan check broodpact:agreement:x").reason(), "SHEET_FORM");
  EXPECT_EQ(Say("mira", "loan sheet rosa-loan --out " + File("loan.doc")).reason(), "USAGE");
}

TEST(Sheets, TextOfOthersIsNoMarkup) {
  Sheet sheet{.mark = {.subject = std::string(26, 'a'), .digest = std::string(64, '0')},
              .title = "<b>&\"",
              .sections = {{.heading = "x", .lines = {"<script>"}, .table = {}}},
              .note = ""};
  EXPECT_THAT(*HtmlOf(sheet), Not(HasSubstr("<script>")));
  EXPECT_EQ(*MarkIn(*HtmlOf(sheet)), sheet.mark);
  EXPECT_EQ(*MarkIn(*PdfOf(sheet, "2026-11-25")), sheet.mark);
}

TEST(Sheets, ALongOneTakesSeveralPages) {
  Sheet sheet{.mark = {.subject = std::string(26, 'a'), .digest = std::string(64, '0')},
              .title = "long",
              .sections = {{.heading = "x",
                            .lines = std::vector<std::string>(200, "a line of the working"),
                            .table = {}}},
              .note = ""};
  const std::string pdf = *PdfOf(sheet, "2026-11-25");
  EXPECT_THAT(pdf, HasSubstr("/Count "));
  EXPECT_THAT(pdf, Not(HasSubstr("/Count 1\n"))) << "pages";
}

// ISO/IEC 18004: finder patterns at three corners, 7 by 7 modules: dark, light, dark 3 by 3.
TEST(QrCodes, HaveTheirFinderPatterns) {
  const QrCode qr = *QrCodeOf("broodpact");
  EXPECT_EQ(qr.size, 21U) << "version 1";
  for (const auto& [row, column] :
       {std::pair<std::size_t, std::size_t>{0, 0}, {0, qr.size - 7}, {qr.size - 7, 0}}) {
    EXPECT_TRUE(qr.IsDark(row, column));
    EXPECT_FALSE(qr.IsDark(row + 1, column + 1));
    EXPECT_TRUE(qr.IsDark(row + 3, column + 3));
  }
  EXPECT_FALSE(QrCodeOf(std::string(10'000, 'x')).ok());
}

}  // namespace
}  // namespace broodpact::cli
