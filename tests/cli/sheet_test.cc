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

  // A copy of the page with one piece exchanged for another one is no sheet of the registry.
  void ExpectFoundOut(const std::string& kind, const std::string& page, const std::string& piece,
                      const std::string& other) {
    std::string html = ReadAll(File(page));
    const std::size_t at = html.find(piece);
    ASSERT_NE(at, std::string::npos) << piece;
    ASSERT_TRUE(Say("mira", kind + " check " + File(page)).status.ok()) << page;
    html.replace(at, piece.size(), other);
    std::ofstream(File("changed.html"), std::ios::binary) << html;
    EXPECT_EQ(Say("mira", kind + " check " + File("changed.html")).reason(), "SHEET_DIFFERS")
        << other;
  }

  std::string folder_;
};

TEST_F(SheetTest, AnAgreementSheetIsCheckedByAnyParty) {
  for (const char* name : {"loan.pdf", "loan.html"}) {
    Do("mira", "loan sheet rosa-loan --out " + File(name));
  }
  EXPECT_THAT(Do("tomas", "loan check " + File("loan.html")),
              HasSubstr("says what this replica says"));
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

TEST_F(SheetTest, APageOfAnAgreementWithOneLineChangedIsFoundOut) {
  Do("tomas", "loan offer bh-m-07 --to bela --name later --until 2027-03-01");
  Do("mira", "loan sheet rosa-loan --curve 0..30 --out " + File("loan.html"));
  Do("tomas", "loan sheet later --out " + File("later.html"));
  Deliver();
  ExpectFoundOut("loan", "loan.html", "<h1>Agreement: loan rosa-loan", "<h1>Agreement: loan x");
  ExpectFoundOut("loan", "loan.html", "is lent by tomas to mira", "is lent by tomas to bela");
  ExpectFoundOut("loan", "loan.html", "2026-11-25T", "2026-11-24T");
  ExpectFoundOut("loan", "loan.html", "What is agreed", "What is agreed, and void");
  ExpectFoundOut("loan", "loan.html", "<polyline points=\"60,", "<polyline points=\"61,");
  ExpectFoundOut("loan", "loan.html", "0 to 30", "0 to 31");
  ExpectFoundOut("loan", "loan.html", "<p>State of the loan: in force.</p>\n",
                 "<p>State of the loan: in force.</p>\n<h2>And</h2>\n");
  ExpectFoundOut("loan", "later.html", "2027-03-01", "2028-03-01");
}

TEST_F(SheetTest, APageOfASettlementWithOneLineChangedIsFoundOut) {
  Do("mira", "sac laid rosa --name rosa-26");
  Do("mira", "count rosa-26 --living 72 --dead 4");
  Do("mira", "split rosa-26");
  Do("mira", "split sheet rosa-26 --out " + File("s.html"));
  ExpectFoundOut("split", "s.html", "<td>48</td>", "<td>58</td>");
  ExpectFoundOut("split", "s.html", "<td>72</td>", "<td>82</td>");
  ExpectFoundOut("split", "s.html", "Laid by rosa on 2026-11-25", "Laid by rosa on 2026-11-24");
  ExpectFoundOut("split", "s.html", "</body>", "<p>Mira owes 20.</p></body>");
}

TEST_F(SheetTest, APageFromBeforeTheLastSignatureSaysTheSame) {
  Do("tomas", "loan offer bh-m-07 --to bela --name later");
  Do("tomas", "loan sheet later --out " + File("later.html"));
  Deliver();
  Do("mira", "loan return rosa-loan");
  Deliver();
  Do("tomas", "loan receive rosa-loan");
  Do("tomas", "loan close rosa-loan");
  Deliver();
  Do("bela", "loan accept later");
  EXPECT_THAT(Do("bela", "loan check " + File("later.html")),
              HasSubstr("says what this replica says"));
}

TEST_F(SheetTest, OfWhatCannotBeReadTheCodeAloneIsVouchedFor) {
  Do("mira", "loan sheet rosa-loan --out " + File("loan.pdf"));
  const std::string said = Do("tomas", "loan check " + File("loan.pdf"));
  EXPECT_THAT(said, Not(HasSubstr("says what this replica says")));
  EXPECT_THAT(said, HasSubstr("The code of this sheet is that of the agreement of rosa-loan"));
  EXPECT_THAT(said, HasSubstr("bh-m-07 is lent by tomas to mira"));
  EXPECT_THAT(said, HasSubstr("2 : 1 between mira and tomas"));
}

TEST_F(SheetTest, ASettlementIsNotReadWhileLateSlingsWait) {
  Do("mira", "sac laid rosa --name rosa-26");
  Do("mira", "count rosa-26 --living 72 --dead 4");
  Do("mira", "split rosa-26");
  Do("mira", "split sheet rosa-26 --out " + File("s.html"));
  Do("mira", "sac late rosa-26 --slings 3");
  EXPECT_THAT(Do("mira", "split check " + File("s.html")), HasSubstr("compare it by eye"));
}

TEST_F(SheetTest, ASettlementSheetOutlivesTheSlings) {
  Do("mira", "sac laid rosa --name rosa-26");
  Do("mira", "count rosa-26 --living 72 --dead 4");
  EXPECT_EQ(Say("mira", "split sheet rosa-26 --out " + File("s.html")).reason(), "NOT_SHARED_OUT");
  Do("mira", "split rosa-26");
  Do("mira", "split sheet rosa-26 --out " + File("s.html"));
  Do("mira", "lot lose rosa-26 --slings 2 --cause moult");
  Deliver();
  EXPECT_THAT(Do("tomas", "split check " + File("s.html")),
              HasSubstr("says what this replica says"));
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
