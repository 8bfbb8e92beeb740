#include <algorithm>

#include "cli/show/kin_chart.h"
#include "cli/show/svg.h"
#include "cli/terminal/table.h"
#include "client/kinship/layout.h"

namespace broodpact::cli {
namespace {

constexpr std::int32_t kKinMargin = 24;
constexpr std::int32_t kPadding = 8;
constexpr std::size_t kRowsMax = 4;  // of a label: name, slings or inbreeding, founder, lines

std::int32_t WidthOf(const std::vector<std::string>& label) {
  std::size_t columns = 4;
  for (const std::string& row : label) columns = std::max(columns, ColumnsOf(row));
  return static_cast<std::int32_t>(columns) * kSvgColumn + 2 * kPadding;
}

kinship::Node NodeAt(std::uint32_t place) {
  return place == 0 ? kinship::kUnknown : place - 1;
}

std::string_view FillOf(const v1::ChartNode& node) {
  if (node.kind() != "animal") return "#f4f4f4";
  return node.founder() ? "#dddddd" : "#ffffff";
}

Stroke StrokeOf(const v1::ChartNode& node) {
  if (node.kind() == "sires") return Stroke::kDashed;
  return node.lines() > 1 ? Stroke::kStrong : Stroke::kPlain;
}

void DrawNode(Svg& svg, const v1::ChartNode& node, const kinship::LayoutNode& box,
              const kinship::Point& corner, std::int32_t height) {
  svg.Box({corner.x + kKinMargin, corner.y + kKinMargin, box.width, height}, FillOf(node),
          StrokeOf(node));
  std::int32_t y = corner.y + kKinMargin + kSvgRow;
  for (const std::string& row : LabelOf(node)) {
    svg.Text(corner.x + kKinMargin + kPadding, y, row);
    y += kSvgRow;
  }
}

}  // namespace

std::string SvgOf(const v1::KinChart& chart) {
  constexpr std::int32_t kNodeHeight = static_cast<std::int32_t>(kRowsMax) * kSvgRow + kPadding;
  std::vector<kinship::LayoutNode> boxes;
  for (const v1::ChartNode& node : chart.nodes()) {
    boxes.push_back({.generation = node.generation(),
                     .width = WidthOf(LabelOf(node)),
                     .parents = {.sire = NodeAt(node.sire()), .dam = NodeAt(node.dam())}});
  }
  const kinship::Layout layout = kinship::LayoutOf(
      boxes, {.height = kNodeHeight, .gap = 16, .layer_gap = 40, .line_width = 8});
  const std::string title =
      chart.nodes().empty() ? "" : "Pedigree of " + chart.nodes(0).subject().name();
  Svg svg(layout.width + 2 * kKinMargin, layout.height + 2 * kKinMargin, title);
  for (const kinship::LayoutLine& line : layout.lines) {
    std::vector<std::pair<std::int32_t, std::int32_t>> points;
    points.reserve(line.points.size());
    for (const kinship::Point& point : line.points) {
      points.emplace_back(point.x + kKinMargin, point.y + kKinMargin);
    }
    const v1::ChartNode& parent = chart.nodes(static_cast<int>(line.parent));
    svg.Line(points, parent.kind() == "sires" ? Stroke::kDashed : Stroke::kPlain);
  }
  for (std::size_t i = 0; i < boxes.size(); ++i) {
    DrawNode(svg, chart.nodes(static_cast<int>(i)), boxes[i], layout.corners[i], kNodeHeight);
  }
  return std::move(svg).Finish();
}

}  // namespace broodpact::cli
