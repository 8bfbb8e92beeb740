// Goal: names are readable, bounded, and not what they are not. Method: the table of well-formed
// UTF-8, character by character, and names at every bound.

#include "client/base/text.h"

#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact {
namespace {

using namespace std::string_literals;
using ::testing::StartsWith;

std::string ReasonOfName(const std::string& name) {
  return ReasonOf(CheckName("name", name));
}

// Source: RFC 3629, section 4 (the table UTF8-octets), at both ends of each row.
TEST(Text, IsUtf8WhereTheTableOfTheRfcSaysSo) {
  for (const std::string& text :
       {""s, "\x00"s, "\x7f"s, "\xc2\x80"s, "\xdf\xbf"s, "\xe0\xa0\x80"s, "\xec\xbf\xbf"s,
        "\xed\x80\x80"s, "\xed\x9f\xbf"s, "\xee\x80\x80"s, "\xef\xbf\xbf"s, "\xf0\x90\x80\x80"s,
        "\xf3\xbf\xbf\xbf"s, "\xf4\x8f\xbf\xbf"s, "h\xc3\xa1morii"s}) {
    EXPECT_TRUE(IsUtf8(text)) << testing::PrintToString(text);
  }
  for (const std::string& text :
       {"\x80"s, "\xbf"s, "\xc0\x80"s, "\xc1\xbf"s, "\xc2"s, "\xc2\x7f"s, "\xe0\x9f\xbf"s,
        "\xe0\xa0"s, "\xed\xa0\x80"s, "\xed\xbf\xbf"s, "\xf0\x8f\xbf\xbf"s, "\xf0\x90\x80"s,
        "\xf4\x90\x80\x80"s, "\xf5\x80\x80\x80"s, "\xff"s, "a\xc3"s, "\xe1\x80\xc0"s}) {
    EXPECT_FALSE(IsUtf8(text)) << testing::PrintToString(text);
  }
}

TEST(Name, MayHaveAnyLetterAndSpacesWithin) {
  for (const std::string& name :
       {"m"s, "mira"s, "Bela K. 7"s, "sm\xc3\xad\xc5\xa1ka"s, "\xe8\x9c\x98"s, std::string(64, 'x'),
        "hamorii-colima"s, "\xf0\x9f\x95\xb7"s}) {
    EXPECT_EQ(ReasonOfName(name), "") << name;
  }
}

TEST(Name, IsRefusedWhereItIsEmptyOrTooLong) {
  EXPECT_EQ(ReasonOfName(""), "NAME_EMPTY");
  EXPECT_EQ(ReasonOfName(std::string(65, 'x')), "NAME_TOO_LONG");
  EXPECT_EQ(ReasonOf(CheckName("name", "four", 3)), "NAME_TOO_LONG");
  EXPECT_EQ(ReasonOf(CheckName("name", "four", 4)), "");
}

TEST(Name, IsRefusedWhereItCouldBeMistakenForAnother) {
  for (const std::string& name :
       {" m"s, "m "s, "\xc2\xa0m"s, "m\xe3\x80\x80"s, "m\xe2\x80\x8b"s, "a/b"s, "a\nb"s, "a\0b"s,
        "a\tb"s, "a\x7f"s, "a\xc2\x85"s, "a\xe2\x80\xaez"s, "a\xe2\x81\xa6z"s, "a\xe2\x80\xa8z"s,
        "a\xc3"s}) {
    EXPECT_EQ(ReasonOfName(name), "TEXT_MALFORMED") << testing::PrintToString(name);
  }
}

TEST(Name, IsCalledByWhatItIsTheNameOf) {
  EXPECT_THAT(std::string(CheckName("name of the animal", "").message()),
              StartsWith("name of the animal is empty"));
}

TEST(Remarks, MayBeEmptyAndHaveSlashesButNoControlCharacters) {
  EXPECT_EQ(ReasonOf(CheckText("remarks", "", 10)), "");
  EXPECT_EQ(ReasonOf(CheckText("remarks", " half/half ", 11)), "");
  EXPECT_EQ(ReasonOf(CheckText("remarks", " half/half ", 10)), "NAME_TOO_LONG");
  EXPECT_EQ(ReasonOf(CheckText("remarks", "\x1b[2J", 10)), "TEXT_MALFORMED");
  EXPECT_EQ(ReasonOf(CheckText("remarks", "\xff", 10)), "TEXT_MALFORMED");
}

}  // namespace
}  // namespace broodpact
