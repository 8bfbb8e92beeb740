#pragma once

// The clauses that a word or a number says, from options to values. What is not said stays as it
// is.

#include "absl/status/status.h"

#include "cli/terms/terms.h"
#include "client/facts/terms.h"

namespace broodpact::cli {

// Errors: INVALID_ARGUMENT with reason TERMS_SYNTAX; those of `lookup`.
absl::Status SetClauses(const TermsOptions& options, const TermsLookup& lookup,
                        facts::Terms& terms);

}  // namespace broodpact::cli
