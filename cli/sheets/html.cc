#include "cli/sheets/html.h"

#include <fmt/format.h>

#include "cli/sheets/qr.h"
#include "cli/terminal/terminal.h"

namespace broodpact::cli {
namespace {

constexpr std::string_view kStyle =
    "body{font:11pt/1.4 serif;max-width:46em;margin:2em auto;padding:0 1em;color:#000}"
    "h1{font-size:16pt;margin:0 0 .4em}h2{font-size:12pt;margin:1.2em 0 .3em;"
    "break-after:avoid}table{border-collapse:collapse}td{padding:.1em 1.5em .1em 0;"
    "vertical-align:top}li{break-inside:avoid;margin:.2em 0}"
    ".mark{display:flex;gap:1em;align-items:center;border-top:1px solid #000;"
    "margin-top:1.5em;padding-top:.8em;break-inside:avoid}"
    ".mark code{font-size:8pt;overflow-wrap:anywhere}"
    "@page{margin:18mm}@media print{body{margin:0;max-width:none}}";

std::string SectionHtml(const SheetSection& section) {
  std::string html = fmt::format("<h2>{}</h2>\n", EscapedHtml(section.heading));
  if (!section.fields.empty()) {
    html += "<table>\n";
    for (const auto& [name, value] : section.fields) {
      if (value.empty()) continue;
      html +=
          fmt::format("<tr><td>{}</td><td>{}</td></tr>\n", EscapedHtml(name), EscapedHtml(value));
    }
    html += "</table>\n";
  }
  if (!section.sentences.empty()) {
    html += "<ol>\n";
    for (const std::string& sentence : section.sentences) {
      html += fmt::format("<li>{}</li>\n", EscapedHtml(sentence));
    }
    html += "</ol>\n";
  }
  return html;
}

std::string MarkHtml(const Sheet& sheet) {
  const std::string mark = MarkText(MarkOf(sheet));
  const QrCode code = QrOf(mark);
  constexpr int kQuiet = 4;  // modules of white around the code, as the standard wants
  return fmt::format(
      "<div class=\"mark\"><svg xmlns=\"http://www.w3.org/2000/svg\" width=\"34mm\" "
      "height=\"34mm\" viewBox=\"{0} {0} {1} {1}\" shape-rendering=\"crispEdges\"><path "
      "d=\"{2}\"/></svg><div>Check this sheet against the registry: <code>broodpact {3} check "
      "FILE</code><br><code>{4}</code></div></div>\n",
      -kQuiet, code.width + 2 * kQuiet, SvgPathOf(code), WordOf(sheet.kind), EscapedHtml(mark));
}

}  // namespace

std::string EscapedHtml(std::string_view text) {
  std::string escaped;
  for (const char c : Clean(text)) {
    switch (c) {
      case '&':
        escaped += "&amp;";
        break;
      case '<':
        escaped += "&lt;";
        break;
      case '>':
        escaped += "&gt;";
        break;
      case '"':
        escaped += "&quot;";
        break;
      default:
        escaped += c;
    }
  }
  return escaped;
}

std::string HtmlOf(const Sheet& sheet) {
  std::string html = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>{0}</title>\n"
      "<meta name=\"broodpact\" content=\"{1}\">\n<style>{2}</style>\n</head>\n<body>\n"
      "<h1>{0}</h1>\n",
      EscapedHtml(sheet.title), MarkText(MarkOf(sheet)), kStyle);
  for (const SheetSection& section : sheet.sections) html += SectionHtml(section);
  if (!sheet.svg.empty()) {
    html += "<h2>What each gets of clutches of any size</h2>\n" + sheet.svg;
  }
  html += MarkHtml(sheet);
  return html + "</body>\n</html>\n";
}

}  // namespace broodpact::cli
