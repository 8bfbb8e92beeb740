#pragma once

// The trade's expected ranges that a keeper goes by.

#include <optional>

#include "absl/status/statusor.h"

#include "cli/desk.h"
#include "client/survival/expectations.h"

namespace broodpact::cli {

// The keeper's own table, expectations.tsv in the home folder; nothing where there is none: then
// the one that ships counts. Errors: those of Expectations::Parse, annotated with the file.
absl::StatusOr<std::optional<survival::Expectations>> OwnExpectations(const Desk& desk);

}  // namespace broodpact::cli
