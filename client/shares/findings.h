#pragma once

// What is contradictory, incomplete or out of reach in terms: told before anybody signs. Nothing
// here refuses anything; what cannot be terms at all is refused by facts::ParseAgreement.
//
// Pure.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "client/base/day.h"
#include "client/facts/terms.h"

namespace broodpact::shares {

enum class Severity : std::uint8_t {
  kWrong,   // contradictory, or never to be reached: it cannot be meant so
  kLookAt,  // it may be meant so; look at it before you sign
  kNote     // not said, or good to know
};

struct Remark {
  Severity severity = Severity::kNote;
  std::string text{};  // one sentence

  friend bool operator==(const Remark&, const Remark&) = default;
};

// "wrong", "look at", "note".
std::string_view SeverityText(Severity severity);

// What is remarkable about the terms of a loan that is due back on `return_day`, the gravest first,
// else in the order of the clauses. `names` has the parties' names.
std::vector<Remark> FindingsOf(const facts::Terms& terms, const std::optional<Day>& return_day,
                               const std::vector<std::string>& names);

}  // namespace broodpact::shares
