#pragma once

// Reads the clauses of terms, and checks what they are within: what an agreement and a form have in
// common.

#include <algorithm>
#include <cstdint>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include <fmt/format.h>
#include <google/protobuf/message.h>

#include "broodpact/v1/terms.pb.h"
#include "client/facts/terms.h"

namespace broodpact::facts::internal {

// Whether the parties of terms are keepers, or roles that a loan fills later.
enum class Naming : std::uint8_t { kKeepers, kRoles };

// INVALID_ARGUMENT about an agreement.
absl::Status Fault(std::string_view reason, std::string_view wrong);
absl::Status FormFault(std::string_view wrong);  // AGREEMENT_FORM

// Whether a field is not known to this version, at any depth.
bool HasUnknownField(const google::protobuf::Message& message);

// Bytes of a fixed size that are not all zeros. Errors: AGREEMENT_FORM.
template <typename Array>
absl::Status TakeFixed(std::string_view what, const std::string& bytes, Array& array) {
  if (bytes.size() == array.size()) {
    std::copy(bytes.begin(), bytes.end(), array.begin());
    if (array != Array{}) return absl::OkStatus();
  }
  return FormFault(fmt::format("the {} is missing or of a wrong length", what));
}

// The terms in their form; what the values mean together is checked afterwards.
// Errors: AGREEMENT_FORM.
absl::StatusOr<Terms> TakeTerms(const v1::Terms& from, Naming naming);

// Checks what the clauses say of the parties. Errors: as ParseAgreement has them, from
// UNKNOWN_PARTY to the end.
absl::Status CheckClauses(const Terms& terms);

// DATE_OUT_OF_RANGE. `what` as in "day of return".
absl::Status CheckDay(std::string_view what, Day day);

}  // namespace broodpact::facts::internal
