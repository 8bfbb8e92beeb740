#pragma once

// A sheet as a PDF on A4 paper, by cairo and pango.

#include <string>

#include "absl/status/statusor.h"

#include "cli/sheets/sheet.h"

namespace broodpact::cli {

// `made` is the day that the document says it was made on, ISO 8601: equal sheets of one day are
// equal files where fonts and libraries are.
//
// Errors: those of QrCodeOf; INTERNAL with reason PDF_FAILED where a library gives up.
absl::StatusOr<std::string> PdfOf(const Sheet& sheet, const std::string& made);

}  // namespace broodpact::cli
