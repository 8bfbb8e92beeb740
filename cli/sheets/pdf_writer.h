#pragma once

// The writer of PDF pages. It is a library of its own, which pdf.cc loads when a page is asked
// for: cairo and pango bring some forty shared libraries, and every other command would wait for
// them at its start.

#include <string>
#include <vector>

#include "cli/sheets/page.h"

namespace broodpact::cli {

struct PdfOrder {
  std::string title{};
  std::string mark{};  // as text; it also stands in the keywords of the document
  const QrCode& qr;
  const std::vector<SheetSection>& sections;
  std::string note{};
  std::string made{};  // when the document says it was made, ISO 8601
};

inline constexpr char kPdfWriterFile[] = "libbroodpact_pdf.so";
inline constexpr char kPdfWriterSymbol[] = "BroodpactWritePdf";
using PdfWriter = bool(const PdfOrder& order, std::string& bytes);

}  // namespace broodpact::cli

// Appends the document to `bytes`; false where cairo or pango gave up. The name is not mangled, so
// that it can be asked for.
extern "C" bool BroodpactWritePdf(const broodpact::cli::PdfOrder& order, std::string& bytes);
