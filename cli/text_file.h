#pragma once

// A file that a keeper asked for by name: a picture, a list for another program.

#include <string>
#include <string_view>

#include "absl/status/status.h"

namespace broodpact::cli {

// Writes `text` whole: to a neighbour first, then renamed over what was there.
// Errors: UNAVAILABLE with reason FILE_WRITE.
absl::Status WriteText(const std::string& file, std::string_view text);

}  // namespace broodpact::cli
