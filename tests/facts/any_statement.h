#pragma once

// Statements of every kind within their bounds, for laws: ids from a few, so that two are often the
// same; texts, counts and days at their limits more often than chance would have it.

#include <optional>

#include <rapidcheck.h>

#include "client/facts/statement.h"

namespace broodpact::facts {

// An id that names something.
template <typename AnyId>
rc::Gen<AnyId> AnyIdOf() {
  return rc::gen::map(rc::gen::inRange(1, 5), [](int number) {
    AnyId id;
    id.bytes.back() = static_cast<std::uint8_t>(number);
    return id;
  });
}

// An id, or none.
template <typename AnyId>
rc::Gen<AnyId> AnyIdOrNone() {
  return rc::gen::oneOf(rc::gen::just(AnyId{}), AnyIdOf<AnyId>());
}

// A hash, key or signature: never zeros.
template <typename Array>
rc::Gen<Array> AnyBytes() {
  return rc::gen::map(rc::gen::inRange(1, 256), [](int number) {
    Array bytes{};
    bytes.fill(static_cast<std::uint8_t>(number));
    return bytes;
  });
}

inline rc::Gen<std::string> AnyName() {
  return rc::gen::element<std::string>("m", "mira", "a name longer than fits into a string itself",
                                       std::string(64, 'x'), "h\xc3\xa1morii");
}

// One of the values from `first` to `last`.
template <typename Enum>
Enum Any(Enum last, int first = 0) {
  return static_cast<Enum>(*rc::gen::inRange(first, static_cast<int>(last) + 1));
}

template <typename Value>
std::optional<Value> Maybe(const rc::Gen<Value>& value) {
  if (*rc::gen::arbitrary<bool>()) return std::nullopt;
  return *value;
}

inline rc::Gen<std::string> AnyText() {
  return rc::gen::oneOf(rc::gen::just(std::string()), AnyName(),
                        rc::gen::just(std::string("eaten/mould")));
}

inline rc::Gen<std::uint32_t> AnySlings(std::uint32_t least = 0) {
  return rc::gen::oneOf(rc::gen::element(least, kSlingsMax),
                        rc::gen::inRange<std::uint32_t>(1, 1000));
}

inline rc::Gen<Day> AnyDay() {
  return rc::gen::oneOf(rc::gen::element(kDayMin, Day{-1}, Day{1}, kDayMax),
                        rc::gen::map(rc::gen::inRange(20'000, 21'000),
                                     [](std::int32_t number) { return Day{number}; }));
}

rc::Gen<DaySpan> AnySpan();

// An agreement of lender 1 and borrower 2, and perhaps more parties, within all its bounds.
rc::Gen<Agreement> AnyAgreement();
rc::Gen<Terms> AnyFormTerms();  // roles in place of keepers

// A statement of any kind but Unknown.
rc::Gen<Statement> AnyStatement();

// A statement of the kind at `index` of Statement, from 1.
rc::Gen<Statement> AnyStatementOfKind(std::size_t index);

}  // namespace broodpact::facts
