#pragma once

// Whether a page of HTML says what a sheet does that is made from this replica now.

#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "cli/sheets/sheet.h"

namespace broodpact::cli {

// Where the page first says something else, as its reader sees it: a line of the page, or what it
// lacks; nothing where it says the same. What comes in as time goes on (signatures, handovers) may
// be missing on the page; what stands under kOfTheDay is not compared, but has to be plain lines.
// Errors: those of QrCodeOf.
absl::StatusOr<std::optional<std::string>> DifferenceOf(std::string_view page, const Sheet& sheet);

}  // namespace broodpact::cli
