#include "cli/sheets/pdf.h"

#include <fmt/format.h>

#include "cli/sheets/pdf_writer.h"
#include "cli/sheets/qr.h"
#include "client/base/status.h"
#include <dlfcn.h>

namespace broodpact::cli {
namespace {

// The writer, which stays loaded until the program ends.
absl::StatusOr<PdfWriter*> LoadWriter() {
  void* const library = dlopen(kPdfWriterFile, RTLD_NOW | RTLD_LOCAL);
  void* const writer = library == nullptr ? nullptr : dlsym(library, kPdfWriterSymbol);
  if (writer != nullptr) return reinterpret_cast<PdfWriter*>(writer);
  // NOLINTNEXTLINE(concurrency-mt-unsafe): the C library keeps it for each thread.
  const char* const reason = dlerror();
  return Fail(
      absl::StatusCode::kFailedPrecondition, "PDF_WRITER_MISSING",
      fmt::format("the writer of PDF pages cannot be loaded ({}); write the sheet as HTML, "
                  "or put {} where this program was installed from",
                  reason == nullptr ? "it is not what was expected" : reason, kPdfWriterFile));
}

}  // namespace

absl::StatusOr<std::string> PdfOf(const Sheet& sheet, const std::string& made) {
  const std::string mark = TextOf(sheet.mark);
  BP_ASSIGN_OR_RETURN(const QrCode qr, QrCodeOf(mark));
  BP_ASSIGN_OR_RETURN(PdfWriter* const write, LoadWriter());
  const PdfOrder order{.title = sheet.title,
                       .mark = mark,
                       .qr = qr,
                       .sections = sheet.sections,
                       .note = sheet.note,
                       .made = fmt::format("{}T00:00:00Z", made)};
  std::string bytes;
  if (write(order, bytes)) return bytes;
  return Fail(absl::StatusCode::kInternal, "PDF_FAILED",
              "the sheet could not be laid out; write it as HTML");
}

}  // namespace broodpact::cli
