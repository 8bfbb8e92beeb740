#include "cli/show/svg.h"

#include <iterator>

#include <fmt/format.h>

#include "cli/terminal/markup.h"
#include "cli/terminal/terminal.h"

namespace broodpact::cli {
namespace {

std::string_view StrokeOf(Stroke stroke) {
  switch (stroke) {
    case Stroke::kPlain:
      return "stroke=\"#555\" stroke-width=\"1\"";
    case Stroke::kStrong:
      return "stroke=\"#000\" stroke-width=\"3\"";
    case Stroke::kDashed:
      return "stroke=\"#555\" stroke-width=\"1\" stroke-dasharray=\"4 3\"";
  }
  return "";
}

}  // namespace

Svg::Svg(std::int32_t width, std::int32_t height, std::string_view title) {
  text_ = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}\" height=\"{1}\" "
      "viewBox=\"0 0 {0} {1}\" font-family=\"monospace\" font-size=\"12\">\n"
      "<title>{2}</title>\n"
      "<rect x=\"0\" y=\"0\" width=\"{0}\" height=\"{1}\" fill=\"#fff\"/>\n",
      width, height, MarkupOf(Clean(title)));
}

void Svg::Box(const SvgArea& area, std::string_view fill, Stroke stroke) {
  fmt::format_to(std::back_inserter(text_),
                 "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\" {}/>\n", area.x,
                 area.y, area.width, area.height, fill, StrokeOf(stroke));
}

void Svg::Line(std::span<const std::pair<std::int32_t, std::int32_t>> points, Stroke stroke) {
  text_ += "<polyline points=\"";
  for (std::size_t i = 0; i < points.size(); ++i) {
    fmt::format_to(std::back_inserter(text_), "{}{},{}", i == 0 ? "" : " ", points[i].first,
                   points[i].second);
  }
  fmt::format_to(std::back_inserter(text_), "\" fill=\"none\" {}/>\n", StrokeOf(stroke));
}

void Svg::Text(std::int32_t x, std::int32_t y, std::string_view text) {
  fmt::format_to(std::back_inserter(text_), "<text x=\"{}\" y=\"{}\">{}</text>\n", x, y,
                 MarkupOf(Clean(text)));
}

std::string Svg::Finish() && {
  text_ += "</svg>\n";
  return std::move(text_);
}

}  // namespace broodpact::cli
