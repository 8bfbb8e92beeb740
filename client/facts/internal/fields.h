#pragma once

// Takes the fields of a commit's messages as values within their bounds, and keeps the fault to
// report.
//
// A reader goes on after a fault, with empty values: which fault is reported depends on what is
// wrong, and not on the order in which the fields are read (commit.h lists the order).

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/status.h"

#include "broodpact/v1/day.pb.h"
#include "client/base/day.h"
#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/text.h"

namespace broodpact::facts::internal {

// The faults in the order in which they are reported.
enum class Fault : std::uint8_t {
  kForm,
  kNameEmpty,
  kNameTooLong,
  kTextMalformed,
  kDateOutOfRange,
  kCountOutOfRange,
  kRegionSyntax,
  kAgreement,
  kNone
};

class Fields {
 public:
  // Says where the fields that follow stand: in the header (0), or in a statement (from 1).
  void EnterStatement(std::size_t number) {
    number_ = number;
    kind_ = {};
  }
  // Says what kind of statement it is, in words. `kind` outlives this.
  void EnterKind(std::string_view kind) { kind_ = kind; }

  // An id of 16 bytes that names something. Faults: kForm.
  template <typename AnyId>
  AnyId Required(std::string_view what, const std::string& bytes) {
    AnyId id;
    TakeFixed(what, bytes, id.bytes);
    return id;
  }

  // As Required, or empty where the field is.
  template <typename AnyId>
  AnyId Optional(std::string_view what, const std::string& bytes) {
    return bytes.empty() ? AnyId{} : Required<AnyId>(what, bytes);
  }

  // Bytes of a fixed size that are not all zeros: a hash, a key, a signature. Faults: kForm.
  template <typename Array>
  Array Fixed(std::string_view what, const std::string& bytes) {
    Array array{};
    TakeFixed(what, bytes, array);
    return array;
  }

  // A name of at least one character. Faults: kNameEmpty, kNameTooLong, kTextMalformed.
  std::string Name(std::string_view what, const std::string& text);

  // A name, or none.
  std::string NameOrNone(std::string_view what, const std::string& text);

  // A text. Faults: kNameTooLong, kTextMalformed.
  std::string Text(std::string_view what, const std::string& text, std::size_t bytes_max);

  // Two capital letters, or nothing. Faults: kRegionSyntax.
  std::string Region(const std::string& text);

  // The day of a statement that must have one. Faults: kForm, kDateOutOfRange.
  template <typename Message>
  DaySpan Day(const Message& from) {
    if (!from.has_day()) Missing("day");
    return from.has_day() ? Span("day", from.day()) : DaySpan{};
  }

  // A span of days. Faults: kForm, kDateOutOfRange.
  DaySpan Span(std::string_view what, const v1::DaySpan& from);

  // A number of slings, `least` to kSlingsMax. Faults: kCountOutOfRange.
  std::uint32_t Slings(std::string_view what, std::uint32_t value, std::uint32_t least = 0);

  // An enum whose values are 0 to `last`, the same in the message. Faults: kForm.
  template <typename Enum>
  Enum OneOf(std::string_view what, int value, Enum last) {
    if (value < 0 || value > static_cast<int>(last)) {
      Note(Fault::kForm, what, "has a value that this version does not know");
      return Enum{};
    }
    return static_cast<Enum>(value);
  }

  // Notes that a field is not there.
  void Missing(std::string_view what) { Note(Fault::kForm, what, "is missing"); }

  // Notes a fault: "<place>: the <what> <wrong>". The first of the gravest kind stays.
  void Note(Fault fault, std::string_view what, std::string_view wrong);

  // Notes an error from elsewhere.
  void Note(Fault fault, const absl::Status& error);

  // OK, or the fault to report.
  const absl::Status& status() const { return status_; }

 private:
  template <std::size_t kSize>
  void TakeFixed(std::string_view what, const std::string& bytes,
                 std::array<std::uint8_t, kSize>& array) {
    if (bytes.size() == kSize) {
      std::copy(bytes.begin(), bytes.end(), array.begin());
      if (array != std::array<std::uint8_t, kSize>{}) return;
    }
    WrongSize(what, bytes, kSize);
  }
  void WrongSize(std::string_view what, const std::string& bytes, std::size_t size);
  void NoteText(const absl::Status& error);
  std::string Place() const;

  std::size_t number_ = 0;
  std::string_view kind_;
  Fault fault_ = Fault::kNone;
  absl::Status status_;
};

}  // namespace broodpact::facts::internal
