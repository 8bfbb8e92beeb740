#include "client/base/day.h"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact {
namespace {

using std::chrono::days;
using std::chrono::month_day_last;
using std::chrono::sys_days;
using std::chrono::year_month_day;
using std::chrono::year_month_day_last;

enum class Precision : std::uint8_t { kYear, kMonth, kDay };

sys_days CivilOf(Day day) {
  return sys_days(days(day.number));
}

Day DayOf(sys_days civil) {
  return Day{static_cast<std::int32_t>(civil.time_since_epoch().count())};
}

absl::Status SyntaxFault(std::string_view form) {
  return Fail(absl::StatusCode::kInvalidArgument, "DATE_SYNTAX",
              fmt::format("this is not a date; write it as {}", form));
}

// The number that `digits` says. Nothing if there is anything but digits.
std::optional<int> NumberOf(std::string_view digits) {
  int number = 0;
  for (const char c : digits) {
    if (c < '0' || c > '9') return std::nullopt;
    number = number * 10 + (c - '0');
  }
  return number;
}

// A year, a month of it, or a day of that, as written.
struct Written {
  int year = 0;
  unsigned month = 0;
  unsigned day = 0;
  Precision precision = Precision::kDay;
};

// Reads "2026", "2026-11" or "2026-11-25".
std::optional<Written> ParseWritten(std::string_view text) {
  Written written;
  if (text.size() != 4 && text.size() != 7 && text.size() != 10) return std::nullopt;
  const auto year = NumberOf(text.substr(0, 4));
  if (!year) return std::nullopt;
  written.year = *year;
  written.precision = Precision::kYear;
  if (text.size() == 4) return written;

  const auto month = NumberOf(text.substr(5, 2));
  if (text[4] != '-' || !month) return std::nullopt;
  written.month = static_cast<unsigned>(*month);
  written.precision = Precision::kMonth;
  if (text.size() == 7) return written;

  const auto day = NumberOf(text.substr(8, 2));
  if (text[7] != '-' || !day) return std::nullopt;
  written.day = static_cast<unsigned>(*day);
  written.precision = Precision::kDay;
  return written;
}

// The days from the first to the last that `written` can mean.
absl::StatusOr<DaySpan> SpanOf(const Written& written) {
  const std::chrono::year year(written.year);
  const bool by_year = written.precision == Precision::kYear;
  const bool by_day = written.precision == Precision::kDay;
  const std::chrono::month first_month(by_year ? 1 : written.month);
  const std::chrono::month last_month(by_year ? 12 : written.month);
  const year_month_day first(year, first_month, std::chrono::day(by_day ? written.day : 1));
  const year_month_day_last last(year, month_day_last(last_month));
  if (!first.ok()) {
    return Fail(absl::StatusCode::kInvalidArgument, "DATE_IMPOSSIBLE",
                "there is no such day in the calendar; check the month and the day");
  }
  const DaySpan span = {.earliest = DayOf(first),
                        .latest = by_day ? DayOf(first) : DayOf(sys_days(last))};
  if (!IsValid(span)) {
    return Fail(absl::StatusCode::kInvalidArgument, "DATE_OUT_OF_RANGE",
                fmt::format("the date lies outside {} to {}; check the year", ToText(kDayMin),
                            ToText(kDayMax)));
  }
  return span;
}

constexpr std::string_view kSpanForm =
    "2026, 2026-11 or 2026-11-25, two of them with / between, and ?, ~ or % at the end if unsure";

absl::StatusOr<DaySpan> ParseUnit(std::string_view text) {
  const auto written = ParseWritten(text);
  if (!written) return SyntaxFault(kSpanForm);
  return SpanOf(*written);
}

Certainty CertaintyOf(char qualifier) {
  switch (qualifier) {
    case '?':
      return Certainty::kUncertain;
    case '~':
      return Certainty::kApproximate;
    case '%':
      return Certainty::kBoth;
    default:
      return Certainty::kStated;
  }
}

std::string_view QualifierOf(Certainty certainty) {
  switch (certainty) {
    case Certainty::kStated:
      return "";
    case Certainty::kUncertain:
      return "?";
    case Certainty::kApproximate:
      return "~";
    case Certainty::kBoth:
      return "%";
  }
  return "";
}

// The coarsest way to write a first and a last day without losing any.
Precision PrecisionOf(const year_month_day& first, const year_month_day& last) {
  const bool whole_months =
      first.day() == std::chrono::day(1) &&
      last.day() == year_month_day_last(last.year(), month_day_last(last.month())).day();
  if (!whole_months) return Precision::kDay;
  const bool whole_years =
      first.month() == std::chrono::January && last.month() == std::chrono::December;
  return whole_years ? Precision::kYear : Precision::kMonth;
}

std::string TextOf(const year_month_day& day, Precision precision) {
  const int year = static_cast<int>(day.year());
  const auto month = static_cast<unsigned>(day.month());
  switch (precision) {
    case Precision::kYear:
      return fmt::format("{:04}", year);
    case Precision::kMonth:
      return fmt::format("{:04}-{:02}", year, month);
    case Precision::kDay:
      break;
  }
  return fmt::format("{:04}-{:02}-{:02}", year, month, static_cast<unsigned>(day.day()));
}

}  // namespace

std::string ToText(Day day) {
  return TextOf(year_month_day(CivilOf(day)), Precision::kDay);
}

absl::StatusOr<Day> ParseDay(std::string_view text) {
  const auto written = ParseWritten(text);
  if (!written || written->precision != Precision::kDay) return SyntaxFault("2026-11-25");
  BP_ASSIGN_OR_RETURN(const DaySpan span, SpanOf(*written));
  return span.earliest;
}

Day DayOfMillis(std::int64_t ms_since_epoch) {
  const auto day = std::chrono::floor<std::chrono::duration<std::int64_t, days::period>>(
                       std::chrono::duration<std::int64_t, std::milli>(ms_since_epoch))
                       .count();
  return Day{
      static_cast<std::int32_t>(std::clamp<std::int64_t>(day, kDayMin.number, kDayMax.number))};
}

std::string InstantText(std::int64_t ms_since_epoch) {
  constexpr std::int64_t kFirstMs = -62'167'219'200'000;  // 0000-01-01T00:00:00Z
  constexpr std::int64_t kLastMs = 253'402'300'799'999;   // 9999-12-31T23:59:59.999Z
  const std::chrono::milliseconds since_epoch(std::clamp(ms_since_epoch, kFirstMs, kLastMs));
  const days day = std::chrono::floor<days>(since_epoch);
  const std::chrono::hh_mm_ss time(std::chrono::floor<std::chrono::seconds>(since_epoch - day));
  return fmt::format("{}T{:02}:{:02}:{:02}Z",
                     TextOf(year_month_day(sys_days(day)), Precision::kDay), time.hours().count(),
                     time.minutes().count(), time.seconds().count());
}

bool IsValid(const DaySpan& span) {
  return kDayMin <= span.earliest && span.earliest <= span.latest && span.latest <= kDayMax;
}

absl::StatusOr<DaySpan> ParseDaySpan(std::string_view text) {
  if (text.empty()) return SyntaxFault(kSpanForm);
  const Certainty certainty = CertaintyOf(text.back());
  if (certainty != Certainty::kStated) text.remove_suffix(1);

  const std::size_t slash = text.find('/');
  BP_ASSIGN_OR_RETURN(DaySpan span, ParseUnit(text.substr(0, slash)));
  if (slash != std::string_view::npos) {
    BP_ASSIGN_OR_RETURN(const DaySpan end, ParseUnit(text.substr(slash + 1)));
    span.latest = end.latest;
    if (span.latest < span.earliest) {
      return Fail(absl::StatusCode::kInvalidArgument, "DATE_IMPOSSIBLE",
                  "the span ends before it begins; write the earlier date first");
    }
  }
  span.certainty = certainty;
  return span;
}

std::string ToText(const DaySpan& span) {
  const year_month_day first(CivilOf(span.earliest));
  const year_month_day last(CivilOf(span.latest));
  const Precision precision = PrecisionOf(first, last);
  std::string text = TextOf(first, precision);
  const std::string end = TextOf(last, precision);
  if (end != text) text.append("/").append(end);
  return text.append(QualifierOf(span.certainty));
}

Day MiddleOf(const DaySpan& span) {
  return Day{span.earliest.number + (span.latest.number - span.earliest.number) / 2};
}

}  // namespace broodpact
