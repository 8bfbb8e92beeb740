#include "cli/sheets/pdf_writer.h"

#include <algorithm>
#include <memory>
#include <vector>

#include <cairo-pdf.h>
#include <pango/pangocairo.h>

namespace {

using broodpact::cli::kQuietZone;
using broodpact::cli::PdfOrder;
using broodpact::cli::QrCode;
using broodpact::cli::SheetSection;
using broodpact::cli::SheetTable;

// A4 in points, and what stays free at each side.
constexpr double kPageWidth = 595.276;
constexpr double kPageHeight = 841.89;
constexpr double kMargin = 56.7;
constexpr double kTextWidth = kPageWidth - 2 * kMargin;
constexpr double kQrSide = 108;  // 38 mm, quiet zone included
constexpr double kCellGap = 8;

constexpr char kTitleFont[] = "Serif Bold 16";
constexpr char kHeadingFont[] = "Serif Bold 12";
constexpr char kTextFont[] = "Serif 10.5";
constexpr char kStrongFont[] = "Serif Bold 10.5";
constexpr char kMarkFont[] = "Monospace 6.5";

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;
using Context = std::unique_ptr<cairo_t, decltype(&cairo_destroy)>;
using Layout = std::unique_ptr<PangoLayout, decltype(&g_object_unref)>;

cairo_status_t Append(void* out, const unsigned char* data, unsigned int size) {
  static_cast<std::string*>(out)->append(reinterpret_cast<const char*>(data), size);
  return CAIRO_STATUS_SUCCESS;
}

// Writes down the page, and begins the next one where this one is full.
class Pen {
 public:
  explicit Pen(cairo_t* context) : context_(context) {}

  // A paragraph over `width` points.
  void Paragraph(const std::string& text, const char* font, double width = kTextWidth) {
    const Layout layout = LayoutOf(text, font, width);
    const double height = HeightOf(layout);
    MakeRoom(height);
    Show(layout, kMargin);
    y_ += height + 2;
  }

  void Space(double points) { y_ += points; }

  // A row of cells of equal width, with a thin line below.
  void TableRow(const std::vector<std::string>& cells, const std::vector<double>& widths,
                const char* font) {
    std::vector<Layout> layouts;
    double height = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      layouts.push_back(LayoutOf(cells[i], font, widths[i] - kCellGap));
      height = std::max(height, HeightOf(layouts.back()));
    }
    MakeRoom(height + 4);
    double x = kMargin;
    for (std::size_t i = 0; i < layouts.size(); ++i) {
      Show(layouts[i], x);
      x += widths[i];
    }
    y_ += height + 2;
    cairo_set_line_width(context_, 0.4);
    cairo_move_to(context_, kMargin, y_);
    cairo_line_to(context_, kPageWidth - kMargin, y_);
    cairo_stroke(context_);
    y_ += 2;
  }

  // The code at the top right of the first page.
  void Code(const QrCode& qr) {
    const double module = kQrSide / static_cast<double>(qr.size + 2 * kQuietZone);
    const double left = kPageWidth - kMargin - kQrSide + kQuietZone * module;
    const double top = kMargin + kQuietZone * module;
    for (std::size_t row = 0; row < qr.size; ++row) {
      for (std::size_t column = 0; column < qr.size; ++column) {
        if (!qr.IsDark(row, column)) continue;
        cairo_rectangle(context_, left + static_cast<double>(column) * module,
                        top + static_cast<double>(row) * module, module, module);
      }
    }
    cairo_fill(context_);
  }

  // Goes on below the code.
  void BelowCode() { y_ = std::max(y_, kMargin + kQrSide + 4); }

 private:
  Layout LayoutOf(const std::string& text, const char* font, double width) const {
    Layout layout(pango_cairo_create_layout(context_), &g_object_unref);
    PangoFontDescription* const description = pango_font_description_from_string(font);
    pango_layout_set_font_description(layout.get(), description);
    pango_font_description_free(description);
    pango_layout_set_width(layout.get(), static_cast<int>(width * PANGO_SCALE));
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
    pango_layout_set_text(layout.get(), text.c_str(), static_cast<int>(text.size()));
    return layout;
  }

  static double HeightOf(const Layout& layout) {
    int width = 0;
    int height = 0;
    pango_layout_get_size(layout.get(), &width, &height);
    return static_cast<double>(height) / PANGO_SCALE;
  }

  void Show(const Layout& layout, double x) {
    cairo_move_to(context_, x, y_);
    pango_cairo_show_layout(context_, layout.get());
  }

  void MakeRoom(double height) {
    if (y_ + height <= kPageHeight - kMargin) return;
    cairo_show_page(context_);
    y_ = kMargin;
  }

  cairo_t* context_;
  double y_ = kMargin;
};

// The width of each column, as its longest cell has it, within reason.
std::vector<double> WidthsOf(const SheetTable& table) {
  constexpr std::size_t kCellMin = 6;
  constexpr std::size_t kCellMax = 48;
  std::vector<std::size_t> sizes;
  sizes.reserve(table.header.size());
  for (const std::string& cell : table.header) sizes.push_back(std::max(cell.size(), kCellMin));
  for (const std::vector<std::string>& row : table.rows) {
    for (std::size_t i = 0; i < row.size(); ++i) {
      sizes[i] = std::max(sizes[i], std::min(row[i].size(), kCellMax));
    }
  }
  std::size_t sum = 0;
  for (const std::size_t size : sizes) sum += size;
  std::vector<double> widths;
  widths.reserve(sizes.size());
  for (const std::size_t size : sizes) {
    widths.push_back(kTextWidth * static_cast<double>(size) / static_cast<double>(sum));
  }
  return widths;
}

void Write(const PdfOrder& order, Pen& pen) {
  pen.Code(order.qr);
  pen.Paragraph(order.title, kTitleFont, kTextWidth - kQrSide - kCellGap);
  pen.Paragraph(order.mark, kMarkFont, kTextWidth - kQrSide - kCellGap);
  pen.BelowCode();
  for (const SheetSection& section : order.sections) {
    pen.Space(8);
    pen.Paragraph(section.heading, kHeadingFont);
    for (const std::string& line : section.lines) pen.Paragraph(line, kTextFont);
    if (section.table.header.empty()) continue;
    const std::vector<double> widths = WidthsOf(section.table);
    pen.TableRow(section.table.header, widths, kStrongFont);
    for (const std::vector<std::string>& row : section.table.rows) {
      pen.TableRow(row, widths, kTextFont);
    }
  }
  pen.Space(12);
  pen.Paragraph(order.note, kTextFont);
}

}  // namespace

bool BroodpactWritePdf(const PdfOrder& order, std::string& bytes) {
  const Surface surface(
      cairo_pdf_surface_create_for_stream(&Append, &bytes, kPageWidth, kPageHeight),
      &cairo_surface_destroy);
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, order.title.c_str());
  // The mark stands in the document's keywords in plain bytes: what is on the page is compressed.
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_KEYWORDS, order.mark.c_str());
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATE_DATE, order.made.c_str());
  const Context context(cairo_create(surface.get()), &cairo_destroy);
  Pen pen(context.get());
  Write(order, pen);
  cairo_show_page(context.get());
  cairo_surface_finish(surface.get());
  return cairo_surface_status(surface.get()) == CAIRO_STATUS_SUCCESS &&
         cairo_status(context.get()) == CAIRO_STATUS_SUCCESS;
}
