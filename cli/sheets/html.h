#pragma once

// A sheet as one HTML page that needs nothing else and prints well.

#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "cli/sheets/sheet.h"

namespace broodpact::cli {

// A piece of a page, and what of it a page of another day may say.
struct PageLine {
  std::string text{};  // ends with a line feed
  std::vector<std::string> before{};
  Passing passing = Passing::kStays;
};

// The page from top to bottom. Errors: those of QrCodeOf.
absl::StatusOr<std::vector<PageLine>> PageOf(const Sheet& sheet);

// The same in one piece.
absl::StatusOr<std::string> HtmlOf(const Sheet& sheet);

}  // namespace broodpact::cli
