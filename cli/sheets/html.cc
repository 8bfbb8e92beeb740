#include "cli/sheets/html.h"

#include <fmt/format.h>

#include "cli/sheets/qr.h"
#include "cli/terminal/markup.h"
#include "client/base/status.h"

namespace broodpact::cli {
namespace {

constexpr std::string_view kStyle =
    "body{font:11pt/1.4 serif;max-width:42em;margin:2em auto;padding:0 1em;color:#000}"
    "h1{font-size:16pt}h2{font-size:12pt;margin-bottom:.3em}"
    "table{border-collapse:collapse;width:100%}"
    "th,td{border-bottom:1px solid #999;padding:.2em .5em .2em 0;text-align:left;"
    "vertical-align:top}p{margin:.3em 0}.mark{font:8pt monospace;word-break:break-all}"
    ".qr{width:38mm;height:38mm;float:right;margin:0 0 1em 1em}"
    "@media print{@page{size:A4;margin:20mm}body{margin:0;max-width:none}"
    "tr,p{page-break-inside:avoid}h2{page-break-after:avoid}}";

std::string SvgOf(const QrCode& qr) {
  const std::size_t side = qr.size + 2 * kQuietZone;
  std::string path;
  for (std::size_t row = 0; row < qr.size; ++row) {
    for (std::size_t column = 0; column < qr.size; ++column) {
      if (!qr.IsDark(row, column)) continue;
      path += fmt::format("M{} {}h1v1h-1z", column + kQuietZone, row + kQuietZone);
    }
  }
  return fmt::format(
      "<svg class=\"qr\" role=\"img\" aria-label=\"QR code of the mark\" viewBox=\"0 0 {} {}\" "
      "shape-rendering=\"crispEdges\"><rect width=\"{}\" height=\"{}\" fill=\"#fff\"/>"
      "<path d=\"{}\"/></svg>\n",
      side, side, side, side, path);
}

std::string RowOf(const std::vector<std::string>& row) {
  std::string html = "<tr>";
  for (const std::string& cell : row) html += fmt::format("<td>{}</td>", MarkupOf(cell));
  return html + "</tr>\n";
}

// The row as it was when its last cell said something else.
std::vector<std::string> RowsBefore(std::vector<std::string> row,
                                    const std::vector<std::string>& last_before) {
  std::vector<std::string> rows;
  for (const std::string& cell : last_before) {
    row.back() = cell;
    rows.push_back(RowOf(row));
  }
  return rows;
}

void AddSection(const SheetSection& section, std::vector<PageLine>& page) {
  page.push_back({.text = fmt::format("<h2>{}</h2>\n", MarkupOf(section.heading))});
  for (const std::string& line : section.lines) {
    page.push_back(
        {.text = fmt::format("<p>{}</p>\n", MarkupOf(line)), .passing = section.passing});
  }
  const SheetTable& table = section.table;
  if (table.header.empty()) return;
  std::string head = "<table><thead><tr>";
  for (const std::string& cell : table.header) head += fmt::format("<th>{}</th>", MarkupOf(cell));
  page.push_back({.text = head + "</tr></thead><tbody>\n"});
  for (const std::vector<std::string>& row : table.rows) {
    page.push_back({.text = RowOf(row),
                    .before = RowsBefore(row, table.last_before),
                    .passing = section.passing});
  }
  page.push_back({.text = "</tbody></table>\n"});
}

}  // namespace

absl::StatusOr<std::vector<PageLine>> PageOf(const Sheet& sheet) {
  const std::string mark = TextOf(sheet.mark);
  BP_ASSIGN_OR_RETURN(const QrCode qr, QrCodeOf(mark));
  std::vector<PageLine> page;
  page.push_back({.text = "<!DOCTYPE html>\n"});
  page.push_back({.text = fmt::format("<html lang=\"en\"><head><meta charset=\"utf-8\">"
                                      "<title>{}</title><style>{}</style></head><body>\n",
                                      MarkupOf(sheet.title), kStyle)});
  page.push_back({.text = SvgOf(qr)});
  page.push_back({.text = fmt::format("<h1>{}</h1>\n", MarkupOf(sheet.title))});
  for (const SheetSection& section : sheet.sections) AddSection(section, page);
  if (!sheet.svg.empty()) {
    page.push_back({.text = fmt::format("<h2>{}</h2>\n", MarkupOf(sheet.svg_heading))});
    page.push_back({.text = sheet.svg});
  }
  page.push_back({.text = fmt::format("<p class=\"mark\">{}</p>\n", mark)});
  page.push_back({.text = fmt::format("<p>{}</p>\n", MarkupOf(sheet.note))});
  page.push_back({.text = "</body></html>\n"});
  return page;
}

absl::StatusOr<std::string> HtmlOf(const Sheet& sheet) {
  BP_ASSIGN_OR_RETURN(const std::vector<PageLine> page, PageOf(sheet));
  std::string html;
  for (const PageLine& line : page) html += line.text;
  return html;
}

}  // namespace broodpact::cli
