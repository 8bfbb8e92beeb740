#include "cli/sheets/pdf.h"

#include <memory>

#include <fmt/format.h>

#include "cli/sheets/qr.h"
#include "cli/terminal/terminal.h"
#include "client/base/status.h"
#include <cairo-pdf.h>
#include <pango/pangocairo.h>

namespace broodpact::cli {
namespace {

// Points, 72 to the inch.
constexpr double kPageWidth = 595;
constexpr double kPageHeight = 842;
constexpr double kMargin = 54;
constexpr double kTextWidth = kPageWidth - 2 * kMargin;
constexpr double kNameWidth = 150;
constexpr double kQrWidth = 96;

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;
using Context = std::unique_ptr<cairo_t, decltype(&cairo_destroy)>;
using Layout = std::unique_ptr<PangoLayout, decltype(&g_object_unref)>;

// Pages that fill from the top down.
class Paper {
 public:
  explicit Paper(cairo_surface_t* surface) : context_(cairo_create(surface), &cairo_destroy) {}

  cairo_t* context() { return context_.get(); }
  double y() const { return y_; }

  // Begins a new page if less than `height` is left of this one.
  void Need(double height) {
    if (y_ + height <= kPageHeight - kMargin) return;
    cairo_show_page(context());
    y_ = kMargin;
  }

  void Skip(double height) { y_ += height; }

  // One paragraph; returns its height. `font` as pango describes it.
  double Write(const std::string& text, const char* font, double left, double width) {
    const Layout layout(pango_cairo_create_layout(context()), &g_object_unref);
    PangoFontDescription* const description = pango_font_description_from_string(font);
    pango_layout_set_font_description(layout.get(), description);
    pango_font_description_free(description);
    pango_layout_set_width(layout.get(), static_cast<int>(width * PANGO_SCALE));
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
    pango_layout_set_text(layout.get(), text.c_str(), static_cast<int>(text.size()));
    int height = 0;
    pango_layout_get_pixel_size(layout.get(), nullptr, &height);
    Need(height);
    cairo_move_to(context(), left, y_);
    pango_cairo_show_layout(context(), layout.get());
    return height;
  }

 private:
  Context context_;
  double y_ = kMargin;
};

constexpr char kTitleFont[] = "Serif Bold 16";
constexpr char kHeadingFont[] = "Serif Bold 12";
constexpr char kTextFont[] = "Serif 10";
constexpr char kMarkFont[] = "Monospace 7";

void WriteField(Paper& paper, const std::string& name, const std::string& value) {
  constexpr double kLine = 16;
  paper.Need(kLine);
  // The value may be longer than the name, and is what the next line stands below.
  paper.Write(Clean(name), kTextFont, kMargin, kNameWidth);
  const double height =
      paper.Write(Clean(value), kTextFont, kMargin + kNameWidth, kTextWidth - kNameWidth);
  paper.Skip(height + 2);
}

void WriteSection(Paper& paper, const SheetSection& section) {
  constexpr double kHeadingRoom = 50;  // never a heading alone at the end of a page
  constexpr double kIndent = 24;
  paper.Skip(10);
  paper.Need(kHeadingRoom);
  paper.Skip(paper.Write(Clean(section.heading), kHeadingFont, kMargin, kTextWidth) + 3);
  for (const auto& [name, value] : section.fields) {
    if (!value.empty()) WriteField(paper, name, value);
  }
  int number = 0;
  for (const std::string& sentence : section.sentences) {
    const std::string text = fmt::format("{}. {}", ++number, Clean(sentence));
    paper.Skip(paper.Write(text, kTextFont, kMargin + kIndent, kTextWidth - kIndent) + 3);
  }
}

void WriteMark(Paper& paper, const Sheet& sheet) {
  const std::string mark = MarkText(MarkOf(sheet));
  const QrCode code = QrOf(mark);
  paper.Skip(14);
  paper.Need(kQrWidth + 8);
  const double top = paper.y();
  const double unit = code.width == 0 ? 0 : kQrWidth / code.width;
  for (int y = 0; y < code.width; ++y) {
    for (int x = 0; x < code.width; ++x) {
      if (!code.IsDark(x, y)) continue;
      cairo_rectangle(paper.context(), kMargin + x * unit, top + y * unit, unit, unit);
    }
  }
  cairo_fill(paper.context());
  const double left = kMargin + kQrWidth + 20;
  const double width = kPageWidth - kMargin - left;
  paper.Skip(8);
  paper.Skip(paper.Write(fmt::format("Check this sheet against the registry: broodpact {} check "
                                     "FILE",
                                     WordOf(sheet.kind)),
                         kTextFont, left, width) +
             4);
  paper.Write(mark, kMarkFont, left, width);
}

absl::Status NotWritten(const std::string& path, cairo_status_t status) {
  return Fail(absl::StatusCode::kUnavailable, "FILE_WRITE",
              fmt::format("{} cannot be written: {}; look at the folder, and at the space there",
                          path, cairo_status_to_string(status)));
}

}  // namespace

absl::Status WritePdf(const Sheet& sheet, const std::string& path) {
  const Surface surface(cairo_pdf_surface_create(path.c_str(), kPageWidth, kPageHeight),
                        &cairo_surface_destroy);
  const std::string mark = MarkText(MarkOf(sheet));
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE,
                                 Clean(sheet.title).c_str());
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_KEYWORDS, mark.c_str());
  {
    Paper paper(surface.get());
    paper.Skip(paper.Write(Clean(sheet.title), kTitleFont, kMargin, kTextWidth) + 4);
    for (const SheetSection& section : sheet.sections) WriteSection(paper, section);
    WriteMark(paper, sheet);
    cairo_show_page(paper.context());
  }
  cairo_surface_finish(surface.get());
  const cairo_status_t status = cairo_surface_status(surface.get());
  return status == CAIRO_STATUS_SUCCESS ? absl::OkStatus() : NotWritten(path, status);
}

}  // namespace broodpact::cli
