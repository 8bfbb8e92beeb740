#pragma once

// Civil days, and how precisely people know them (ISO 8601-1 and the parts of ISO 8601-2 that a
// breeding diary needs). Without time zones: the day on the wall where it happened.

#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

namespace broodpact {

// A day, counted from 1970-01-01 in the proleptic Gregorian calendar.
struct Day {
  std::int32_t number = 0;
  friend auto operator<=>(const Day&, const Day&) = default;
};

// The days that can be written down: older animals and longer plans do not exist.
inline constexpr Day kDayMin{-25'567};  // 1900-01-01
inline constexpr Day kDayMax{84'005};   // 2199-12-31

// The first 10 characters of RFC 3339: "2026-11-25".
std::string ToText(Day day);

// Reads "2026-11-25".
// Errors: INVALID_ARGUMENT with reason DATE_SYNTAX, DATE_IMPOSSIBLE or DATE_OUT_OF_RANGE.
absl::StatusOr<Day> ParseDay(std::string_view text);

// The day of an instant in UTC. Clamped to kDayMin .. kDayMax.
Day DayOfMillis(std::int64_t ms_since_epoch);

// An instant as RFC 3339 in UTC with seconds: "2026-11-25T09:30:00Z". Clamped to the years 0000 to
// 9999, which is what RFC 3339 can say.
std::string InstantText(std::int64_t ms_since_epoch);

enum class Certainty : std::uint8_t { kStated = 0, kUncertain = 1, kApproximate = 2, kBoth = 3 };

// When something happened: a span of days that it lies in. A known day is a span of one.
struct DaySpan {
  Day earliest{};
  Day latest{};
  Certainty certainty = Certainty::kStated;

  friend auto operator<=>(const DaySpan&, const DaySpan&) = default;
};

// Whether the two ends are within range and in order.
bool IsValid(const DaySpan& span);

// The day in the middle of a span, the earlier one of two.
Day MiddleOf(const DaySpan& span);

// Reads "2026", "2026-11", "2026-11-25", each with "?", "~" or "%" behind it, or two of them with
// "/" between ("2026-11-20/2026-11-25"), where a qualifier stands at the very end.
// "2026-11-20/2026-11-25" is the span from the first day of its left end to the last of its right.
// Errors: as ParseDay; also DATE_IMPOSSIBLE for a span that ends before it begins.
absl::StatusOr<DaySpan> ParseDaySpan(std::string_view text);

// The shortest text that ParseDaySpan reads back as the same span, where two ends are written
// equally precisely ("2026-11/2026-12", not "2026-11/2026").
std::string ToText(const DaySpan& span);

}  // namespace broodpact
