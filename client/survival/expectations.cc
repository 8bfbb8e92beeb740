#include "client/survival/expectations.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstddef>
#include <utility>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/survival/internal/shipped.h"

namespace broodpact::survival {
namespace {

constexpr std::size_t kColumns = 7;
// The mean month of the Gregorian calendar: a range in months is not exact to the day.
constexpr double kMonthDays = 30.436875;
constexpr double kWeekDays = 7;
constexpr double kPercent = 0.01;

template <typename Value>
using Words = std::array<std::pair<std::string_view, Value>, 4>;

constexpr Words<double> kUnits{
    {{"days", 1}, {"weeks", kWeekDays}, {"months", kMonthDays}, {"percent", kPercent}}};
constexpr Words<Trust> kTrusts{{{"published", Trust::kPublished},
                                {"practice", Trust::kPractice},
                                {"unchecked", Trust::kUnchecked},
                                {"from-memory", Trust::kFromMemory}}};
constexpr std::array<std::pair<std::string_view, Expected>, 3> kWhats{
    {{"male_life", Expected::kMaleLife},
     {"laying", Expected::kLaying},
     {"viable_sac", Expected::kViableSac}}};

template <typename Table>
auto ValueOf(const Table& table, std::string_view word)
    -> std::optional<typename Table::value_type::second_type> {
  for (const auto& [name, value] : table) {
    if (name == word) return value;
  }
  return std::nullopt;
}

std::optional<double> NumberOf(std::string_view text) {
  double number = 0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, number);
  if (stop != end || error != std::errc() || !(number >= 0 && number < 1e6)) return std::nullopt;
  return number;
}

// Cuts the next piece up to `mark` off the front of `text`.
std::string_view NextPiece(std::string_view& text, char mark) {
  const std::size_t end = std::min(text.find(mark), text.size());
  const std::string_view piece = text.substr(0, end);
  text.remove_prefix(std::min(end + 1, text.size()));
  return piece;
}

absl::Status Malformed(std::size_t line, std::string_view what) {
  return Fail(absl::StatusCode::kInvalidArgument, "EXPECTATIONS_FORM",
              fmt::format("line {} of the table of expectations: {}", line, what));
}

}  // namespace

absl::StatusOr<Expectations> Expectations::Parse(std::string_view text) {
  Expectations table;
  for (std::size_t number = 1; !text.empty(); ++number) {
    std::string_view line = NextPiece(text, '\n');
    if (line.ends_with('\r')) line.remove_suffix(1);
    if (line.empty() || line.starts_with('#')) continue;
    BP_ASSIGN_OR_RETURN(Line read, ReadLine(line, number));
    table.lines_.push_back(std::move(read));
  }
  return table;
}

absl::StatusOr<Expectations::Line> Expectations::ReadLine(std::string_view text,
                                                          std::size_t number) {
  if (static_cast<std::size_t>(std::ranges::count(text, '\t')) != kColumns - 1) {
    return Malformed(number, "wants seven columns with tabs between them");
  }
  std::array<std::string_view, kColumns> columns;
  for (std::string_view& column : columns) column = NextPiece(text, '\t');

  const auto what = ValueOf(kWhats, columns[0]);
  if (!what) return Malformed(number, "the first column is male_life, laying or viable_sac");
  const auto unit = ValueOf(kUnits, columns[4]);
  const bool is_share = *what == Expected::kViableSac;
  if (!unit || (columns[4] == "percent") != is_share) {
    return Malformed(number,
                     is_share ? "a share is in percent" : "a time is in days, weeks or months");
  }
  const std::optional<double> low = NumberOf(columns[2]);
  const std::optional<double> high = NumberOf(columns[3]);
  if (!low || !high || *low > *high || (is_share && *high * *unit > 1)) {
    return Malformed(number, "low and high are numbers, low not above high");
  }
  const auto trust = ValueOf(kTrusts, columns[5]);
  if (!trust) return Malformed(number, "trust is published, practice, unchecked or from-memory");
  if (columns[1].empty() || columns[6].empty()) {
    return Malformed(number, "taxon and source are missing");
  }
  return Line{.what = *what,
              .taxon = std::string(columns[1]),
              .low = *low * *unit,
              .high = *high * *unit,
              .trust = *trust,
              .source = std::string(columns[6])};
}

const Expectations& Expectations::Shipped() {
  static const Expectations table = [] {
    absl::StatusOr<Expectations> parsed = Parse(kShippedExpectations);
    BP_CHECK(parsed.ok());
    return *std::move(parsed);
  }();
  return table;
}

std::optional<Prior> Expectations::Of(Expected what, std::string_view taxon) const {
  for (const std::string_view name : {taxon, GenusOf(taxon), std::string_view("*")}) {
    std::optional<Prior> prior;
    for (const Line& line : lines_) {
      if (line.what != what || line.taxon != name) continue;
      if (!prior) {
        prior = Prior{.low = line.low,
                      .high = line.high,
                      .trust = line.trust,
                      .taxon = line.taxon,
                      .sources = line.source};
        continue;
      }
      prior->low = std::min(prior->low, line.low);
      prior->high = std::max(prior->high, line.high);
      prior->trust = std::max(prior->trust, line.trust);
      prior->sources += "; " + line.source;
    }
    if (prior) return prior;
  }
  return std::nullopt;
}

std::string_view ToText(Trust trust) {
  switch (trust) {
    case Trust::kPublished:
      return "published";
    case Trust::kPractice:
      return "practice";
    case Trust::kUnchecked:
      return "unchecked";
    case Trust::kFromMemory:
      return "from memory";
  }
  return "from memory";
}

std::string_view GenusOf(std::string_view taxon) {
  return taxon.substr(0, taxon.find(' '));
}

}  // namespace broodpact::survival
