#include <algorithm>

#include <fmt/format.h>

#include "cli/show/health.h"
#include "cli/show/svg.h"

namespace broodpact::cli {
namespace {

constexpr std::int32_t kMargin = 24;
constexpr std::int32_t kLabel = 10 * kSvgColumn;
constexpr std::int32_t kBarMax = 320;
constexpr std::int32_t kGap = 24;
constexpr char kMaleFill[] = "#4477aa";  // told apart by those who see no red
constexpr char kFemaleFill[] = "#ddaa33";
constexpr char kYearFill[] = "#bbbbbb";

std::int32_t LengthOf(std::uint32_t value, std::uint32_t most) {
  return most == 0 ? 0 : static_cast<std::int32_t>(std::int64_t{value} * kBarMax / most);
}

// Bars go to the right; males stand above females of the same month.
std::int32_t DrawMonths(Svg& svg, const v1::GroupHealth& health, std::int32_t y) {
  std::uint32_t most = 0;
  for (const v1::MatureMonth& month : health.months()) {
    most = std::max({most, month.males(), month.females()});
  }
  svg.Text(kMargin, y, "Mature animals by month");
  y += kSvgRow;
  svg.Box({kMargin, y - 10, 10, 10}, kMaleFill, Stroke::kPlain);
  svg.Text(kMargin + kSvgRow, y, "males");
  svg.Box({kMargin + kLabel, y - 10, 10, 10}, kFemaleFill, Stroke::kPlain);
  svg.Text(kMargin + kLabel + kSvgRow, y, "females");
  for (const v1::MatureMonth& month : health.months()) {
    y += kSvgRow + 4;
    const std::int32_t x = kMargin + kLabel;
    svg.Text(kMargin, y, month.month());
    svg.Box({x, y - 12, LengthOf(month.males(), most), 7}, kMaleFill, Stroke::kPlain);
    svg.Box({x, y - 5, LengthOf(month.females(), most), 7}, kFemaleFill, Stroke::kPlain);
    const bool gap = month.males() == 0 && month.females() > 0;
    svg.Text(
        x + kBarMax + 8, y,
        fmt::format("{} / {}{}", month.males(), month.females(), gap ? "  no mature male" : ""));
  }
  return y + kGap;
}

void DrawYears(Svg& svg, const v1::GroupHealth& health, std::int32_t y) {
  svg.Text(kMargin, y, "Gene diversity by year");
  for (const v1::DiversityYear& year : health.years()) {
    y += kSvgRow + 4;
    const std::int32_t x = kMargin + kLabel;
    svg.Text(kMargin, y, std::to_string(year.year()));
    const auto length = static_cast<std::int32_t>(year.gene_diversity() * kBarMax);
    svg.Box({x, y - 12, length, 14}, kYearFill, Stroke::kPlain);
    svg.Text(x + kBarMax + 8, y,
             year.animals() == 0
                 ? "nobody"
                 : fmt::format("{:.4f}  of {}", year.gene_diversity(), year.animals()));
  }
}

}  // namespace

std::string SvgOf(const v1::GroupHealth& health) {
  const std::int32_t rows = health.months_size() + health.years_size();
  const std::int32_t height = 2 * kMargin + 2 * kGap + 4 * kSvgRow + rows * (kSvgRow + 4);
  Svg svg(2 * kMargin + kLabel + kBarMax + 30 * kSvgColumn, height, health.group().name());
  svg.Text(
      kMargin, kMargin,
      fmt::format("{}, {}, {}: {} living, gene diversity {:.4f}", health.group().name(),
                  health.group().taxon(), health.day(), health.animals(), health.gene_diversity()));
  const std::int32_t y = DrawMonths(svg, health, kMargin + kGap);
  DrawYears(svg, health, y);
  return std::move(svg).Finish();
}

}  // namespace broodpact::cli
