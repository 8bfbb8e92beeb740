#include "client/facts/internal/fields.h"

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/facts/terms.h"

namespace broodpact::facts::internal {
namespace {

std::string_view ReasonOfFault(Fault fault) {
  switch (fault) {
    case Fault::kNameEmpty:
      return "NAME_EMPTY";
    case Fault::kNameTooLong:
      return "NAME_TOO_LONG";
    case Fault::kTextMalformed:
      return "TEXT_MALFORMED";
    case Fault::kDateOutOfRange:
      return "DATE_OUT_OF_RANGE";
    case Fault::kCountOutOfRange:
      return "COUNT_OUT_OF_RANGE";
    case Fault::kRegionSyntax:
      return "REGION_SYNTAX";
    case Fault::kForm:
    case Fault::kAgreement:
    case Fault::kNone:
      break;
  }
  return "COMMIT_FORM";
}

Fault FaultOfText(const absl::Status& error) {
  const std::string reason = ReasonOf(error);
  if (reason == "NAME_EMPTY") return Fault::kNameEmpty;
  if (reason == "NAME_TOO_LONG") return Fault::kNameTooLong;
  return Fault::kTextMalformed;
}

bool IsCapital(char c) {
  return c >= 'A' && c <= 'Z';
}

}  // namespace

std::string Fields::Name(std::string_view what, const std::string& text) {
  NoteText(CheckName(what, text));
  return text;
}

std::string Fields::NameOrNone(std::string_view what, const std::string& text) {
  return text.empty() ? std::string() : Name(what, text);
}

std::string Fields::Text(std::string_view what, const std::string& text, std::size_t bytes_max) {
  NoteText(CheckText(what, text, bytes_max));
  return text;
}

std::string Fields::Region(const std::string& text) {
  const bool well_formed =
      text.empty() || (text.size() == 2 && IsCapital(text[0]) && IsCapital(text[1]));
  if (!well_formed) {
    Note(Fault::kRegionSyntax, "region", "is not a country code of two capital letters, as in MX");
  }
  return text;
}

DaySpan Fields::Span(std::string_view what, const v1::DaySpan& from) {
  const DaySpan span = {.earliest = broodpact::Day{from.earliest_day()},
                        .latest = broodpact::Day{from.latest_day()},
                        .certainty = OneOf(what, from.certainty(), Certainty::kBoth)};
  if (!IsValid(span)) {
    Note(Fault::kDateOutOfRange, what, "is not a span of days between 1900 and 2199");
  }
  return span;
}

std::uint32_t Fields::Slings(std::string_view what, std::uint32_t value, std::uint32_t least) {
  if (value < least || value > kSlingsMax) {
    Note(Fault::kCountOutOfRange, what,
         fmt::format("is {}; it must be {} to {}", value, least, kSlingsMax));
  }
  return value;
}

void Fields::Note(Fault fault, std::string_view what, std::string_view wrong) {
  if (fault >= fault_) return;
  fault_ = fault;
  status_ = Fail(absl::StatusCode::kInvalidArgument, ReasonOfFault(fault),
                 fmt::format("{}: the {} {}", Place(), what, wrong));
}

void Fields::Note(Fault fault, const absl::Status& error) {
  if (error.ok() || fault >= fault_) return;
  fault_ = fault;
  status_ = Annotate(error, Place());
}

void Fields::WrongSize(std::string_view what, const std::string& bytes, std::size_t size) {
  if (bytes.empty()) return Missing(what);
  if (bytes.size() == size) return Note(Fault::kForm, what, "is all zeros, which names nothing");
  Note(Fault::kForm, what, fmt::format("has {} bytes instead of {}", bytes.size(), size));
}

void Fields::NoteText(const absl::Status& error) {
  if (!error.ok()) Note(FaultOfText(error), error);
}

std::string Fields::Place() const {
  if (number_ == 0) return "commit";
  if (kind_.empty()) return fmt::format("statement {}", number_);
  return fmt::format("statement {} ({})", number_, kind_);
}

}  // namespace broodpact::facts::internal
