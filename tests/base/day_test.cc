// Goal: days and spans mean what people write. Method: laws for the way there and back and for the
// shortest text, the calendar's known days, and texts that are no date.

#include "client/base/day.h"

#include <algorithm>
#include <cstdint>
#include <limits>
#include <string>
#include <tuple>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"

namespace broodpact {
namespace {

// Ends that fall on the ends of months and years more often than chance would have it.
rc::Gen<Day> AnyDay() {
  const auto anywhere = rc::gen::map(rc::gen::inRange(kDayMin.number, kDayMax.number + 1),
                                     [](std::int32_t number) { return Day{number}; });
  const auto near_an_end = rc::gen::map(
      rc::gen::tuple(rc::gen::inRange(1900, 2199), rc::gen::inRange(1, 13), rc::gen::inRange(0, 2)),
      [](const std::tuple<int, int, int>& drawn) {
        const auto [year, month, back] = drawn;
        const std::string text =
            std::to_string(year) + (month < 10 ? "-0" : "-") + std::to_string(month) + "-01";
        return Day{ParseDay(text).value().number - (year == 1900 ? 0 : back)};
      });
  return rc::gen::oneOf(anywhere, near_an_end);
}

rc::Gen<DaySpan> AnySpan() {
  return rc::gen::map(
      rc::gen::tuple(AnyDay(), AnyDay(), rc::gen::inRange(0, 2), rc::gen::inRange(0, 4)),
      [](const std::tuple<Day, Day, int, int>& drawn) {
        const auto [one, other, known, certainty] = drawn;
        return DaySpan{.earliest = std::min(one, other),
                       .latest = known == 1 ? std::min(one, other) : std::max(one, other),
                       .certainty = static_cast<Certainty>(certainty)};
      });
}

std::string Reread(const std::string& text) {
  const auto span = ParseDaySpan(text);
  return span.ok() ? ToText(*span) : ReasonOf(span.status());
}

RC_GTEST_PROP(Day, ReadsBackFromItsText, ()) {
  const Day day = *AnyDay();
  RC_ASSERT(ParseDay(ToText(day)).value() == day);
}

RC_GTEST_PROP(Span, ReadsBackFromItsText, ()) {
  const DaySpan span = *AnySpan();
  RC_ASSERT(IsValid(span));
  RC_ASSERT(ParseDaySpan(ToText(span)).value() == span);
}

RC_GTEST_PROP(Day, IsThatOfItsEveryMillisecond, ()) {
  const Day day = *AnyDay();
  const std::int64_t begin = std::int64_t{day.number} * 86'400'000;
  RC_ASSERT(DayOfMillis(begin) == day);
  RC_ASSERT(DayOfMillis(begin + 86'399'999) == day);
  RC_ASSERT(InstantText(begin) == ToText(day) + "T00:00:00Z");
}

// Source: the Unix epoch; 2000-03-01 is day 11,017 (Hinnant, chrono-compatible date algorithms).
TEST(Day, IsCountedFromTheEpoch) {
  EXPECT_EQ(ParseDay("1970-01-01").value(), Day{0});
  EXPECT_EQ(ParseDay("1969-12-31").value(), Day{-1});
  EXPECT_EQ(ParseDay("2000-03-01").value(), Day{11'017});
  EXPECT_EQ(ToText(kDayMin), "1900-01-01");
  EXPECT_EQ(ToText(kDayMax), "2199-12-31");
}

TEST(Day, MustBeInTheCalendar) {
  EXPECT_TRUE(ParseDay("2024-02-29").ok());
  EXPECT_TRUE(ParseDay("2000-02-29").ok());
  for (const char* text : {"2026-02-29", "2100-02-29", "2026-04-31", "2026-13-01", "2026-00-10",
                           "2026-01-00", "2026-01-32"}) {
    EXPECT_EQ(ReasonOf(ParseDay(text).status()), "DATE_IMPOSSIBLE") << text;
  }
}

TEST(Day, MustBeOneThatCanBeWrittenDown) {
  EXPECT_TRUE(ParseDay("1900-01-01").ok());
  EXPECT_TRUE(ParseDay("2199-12-31").ok());
  for (const char* text : {"1899-12-31", "2200-01-01", "0000-01-01", "9999-12-31"}) {
    EXPECT_EQ(ReasonOf(ParseDay(text).status()), "DATE_OUT_OF_RANGE") << text;
  }
}

TEST(Day, IsNotReadFromOtherText) {
  for (const char* text :
       {"", "2026", "2026-11", "2026-1-1", "26-11-25", "2026/11/25", "2026-11-2x", "2026-11-25 ",
        " 2026-11-25", "+026-11-25", "2026-11-25?", "yesterday"}) {
    EXPECT_EQ(ReasonOf(ParseDay(text).status()), "DATE_SYNTAX") << text;
  }
}

TEST(Span, OfAMonthOrAYearIsFromItsFirstToItsLastDay) {
  const auto leap = ParseDaySpan("2024-02").value();
  EXPECT_EQ(ToText(leap.earliest), "2024-02-01");
  EXPECT_EQ(ToText(leap.latest), "2024-02-29");
  const auto year = ParseDaySpan("2026").value();
  EXPECT_EQ(ToText(year.earliest), "2026-01-01");
  EXPECT_EQ(ToText(year.latest), "2026-12-31");
  const auto over = ParseDaySpan("2026-11/2027").value();
  EXPECT_EQ(ToText(over.earliest), "2026-11-01");
  EXPECT_EQ(ToText(over.latest), "2027-12-31");
}

TEST(Span, IsWrittenInTheShortestForm) {
  EXPECT_EQ(Reread("2026-11-25"), "2026-11-25");
  EXPECT_EQ(Reread("2026-11-25/2026-11-25"), "2026-11-25");
  EXPECT_EQ(Reread("2026-11-01/2026-11-30"), "2026-11");
  EXPECT_EQ(Reread("2026-01-01/2026-12-31"), "2026");
  EXPECT_EQ(Reread("2026-01/2027-12"), "2026/2027");
  EXPECT_EQ(Reread("2026-11-01/2026-12-31"), "2026-11/2026-12");
  EXPECT_EQ(Reread("2026-11-01/2026-12-30"), "2026-11-01/2026-12-30");
}

TEST(Span, CarriesItsQualifierAtTheEnd) {
  EXPECT_EQ(ParseDaySpan("2026?").value().certainty, Certainty::kUncertain);
  EXPECT_EQ(ParseDaySpan("2026-11~").value().certainty, Certainty::kApproximate);
  EXPECT_EQ(ParseDaySpan("2026-11-20/2026-11-25%").value().certainty, Certainty::kBoth);
  EXPECT_EQ(Reread("2026-11-20/2026-11-25%"), "2026-11-20/2026-11-25%");
}

TEST(Span, IsRefusedWhereItIsNoSpan) {
  EXPECT_EQ(Reread("2026-11-25/2026-11-20"), "DATE_IMPOSSIBLE");
  EXPECT_EQ(Reread("2026-02-30"), "DATE_IMPOSSIBLE");
  EXPECT_EQ(Reread("2199/2200"), "DATE_OUT_OF_RANGE");
  for (const char* text : {"", "?", "/", "2026/", "/2026", "2026?/2027", "2026/2027/2028", "2026??",
                           "2026 ?", "202", "2026-", "2026-11-"}) {
    EXPECT_EQ(Reread(text), "DATE_SYNTAX") << text;
  }
}

TEST(Span, IsValidWithinTheRangeAndInOrder) {
  EXPECT_TRUE(IsValid({.earliest = kDayMin, .latest = kDayMax}));
  EXPECT_FALSE(IsValid({.earliest = Day{1}, .latest = Day{0}}));
  EXPECT_FALSE(IsValid({.earliest = Day{kDayMin.number - 1}, .latest = Day{0}}));
  EXPECT_FALSE(IsValid({.earliest = Day{0}, .latest = Day{kDayMax.number + 1}}));
}

TEST(Instant, IsWrittenInSecondsOfUtc) {
  EXPECT_EQ(InstantText(0), "1970-01-01T00:00:00Z");
  EXPECT_EQ(InstantText(-1), "1969-12-31T23:59:59Z");
  EXPECT_EQ(InstantText(1'795'599'000'999), "2026-11-25T09:30:00Z");
}

TEST(Instant, IsClampedWhereverAClockMayStand) {
  EXPECT_EQ(InstantText(std::numeric_limits<std::int64_t>::max()), "9999-12-31T23:59:59Z");
  EXPECT_EQ(InstantText(std::numeric_limits<std::int64_t>::min()), "0000-01-01T00:00:00Z");
  EXPECT_EQ(DayOfMillis(std::numeric_limits<std::int64_t>::max()), kDayMax);
  EXPECT_EQ(DayOfMillis(std::numeric_limits<std::int64_t>::min()), kDayMin);
}

TEST(DaySpan, HasItsEarlierMiddleDayInTheMiddle) {
  EXPECT_EQ(MiddleOf(*ParseDaySpan("2026-03-01/2026-03-04")), *ParseDay("2026-03-02"));
  EXPECT_EQ(MiddleOf(*ParseDaySpan("1969-12-30/1970-01-03")), *ParseDay("1970-01-01"));
  EXPECT_EQ(MiddleOf(*ParseDaySpan("2026-03-01")), *ParseDay("2026-03-01"));
}

}  // namespace
}  // namespace broodpact
