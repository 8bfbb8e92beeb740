#pragma once

// A sheet as one HTML page that needs nothing else and prints well.

#include <string>

#include "absl/status/statusor.h"

#include "cli/sheets/sheet.h"

namespace broodpact::cli {

// Errors: those of QrCodeOf.
absl::StatusOr<std::string> HtmlOf(const Sheet& sheet);

}  // namespace broodpact::cli
