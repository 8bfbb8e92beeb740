#pragma once

// A sheet as a PDF document of A4 pages, by cairo and pango.

#include <string>

#include "absl/status/status.h"

#include "cli/sheets/sheet.h"

namespace broodpact::cli {

// Writes the document to `path`, over what is there.
// Errors: UNAVAILABLE with reason FILE_WRITE.
absl::Status WritePdf(const Sheet& sheet, const std::string& path);

}  // namespace broodpact::cli
