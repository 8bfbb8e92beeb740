#pragma once

// A question before something that concerns others, or cannot be taken back.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"

namespace broodpact::cli {

// Whether the keeper has said on the command line that it shall be done.
enum class Consent { kAsk, kGiven };

// Asks `question` at a terminal and reads the answer; "y" or "yes" is yes.
// Errors: FAILED_PRECONDITION with reason NOT_CONFIRMED: another answer, or nobody to ask.
absl::Status Confirm(const Desk& desk, const std::string& question, Consent consent);

}  // namespace broodpact::cli
