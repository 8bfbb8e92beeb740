#pragma once

// A sheet as one HTML page that needs nothing else and prints well.

#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "cli/sheets/sheet.h"

namespace broodpact::cli {

// Errors: those of QrCodeOf.
absl::StatusOr<std::string> HtmlOf(const Sheet& sheet);

// A line of a sheet as it stands on its page.
std::string HtmlOfLine(std::string_view line);

}  // namespace broodpact::cli
