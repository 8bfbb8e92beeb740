#include "cli/show/curve.h"

#include <algorithm>
#include <array>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "cli/show/show.h"
#include "cli/terminal/markup.h"
#include "cli/terminal/table.h"

namespace broodpact::cli {
namespace {

constexpr int kRows = 16;
constexpr int kColumnsMin = 20;
constexpr int kChartMargin = 8;  // columns for the scale at the left
constexpr char kSeveral = '*';

constexpr int kWidth = 720;
constexpr int kHeight = 440;
constexpr int kLeft = 60;
constexpr int kBottom = 50;
constexpr int kTop = 20;
constexpr int kRight = 160;  // room for names
constexpr std::array<std::string_view, 6> kColours = {"#1b6ca8", "#c0392b", "#2e7d32",
                                                      "#8e44ad", "#b9770e", "#37474f"};
constexpr std::array<std::string_view, 4> kDashes = {"", "8 3", "3 3", "10 3 2 3"};

std::uint32_t MostOf(const v1::SplitCurve& curve) {
  std::uint32_t most = 1;
  for (const v1::CurveLine& line : curve.lines()) {
    for (const std::uint32_t slings : line.slings()) most = std::max(most, slings);
  }
  return most;
}

// `value` of 0 .. `value_max` as a place of 0 .. `places` - 1.
int PlaceOf(std::uint64_t value, std::uint64_t value_max, int places) {
  if (value_max == 0) return 0;
  const auto gaps = static_cast<std::uint64_t>(places - 1);
  return static_cast<int>((value * gaps + value_max / 2) / value_max);
}

char LetterOf(int line) {
  return static_cast<char>('a' + line % 26);
}

// Where a value stands on the page.
struct Page {
  std::uint32_t first = 0;  // size at the left
  std::uint32_t last = 0;   // size at the right
  std::uint32_t most = 1;   // slings at the top

  int X(std::uint32_t size) const {
    return kLeft + PlaceOf(size - first, last - first, kWidth - kLeft - kRight + 1);
  }
  int Y(std::uint32_t slings) const {
    return kHeight - kBottom - PlaceOf(slings, most, kHeight - kBottom - kTop + 1);
  }
};

std::string Axes(const Page& page) {
  std::string svg = fmt::format("<path d=\"M{0} {1}V{2}H{3}\" fill=\"none\" stroke=\"#000\"/>\n",
                                kLeft, kTop, kHeight - kBottom, kWidth - kRight);
  constexpr std::uint32_t kMarks = 4;
  for (std::uint32_t i = 0; i <= kMarks; ++i) {
    const auto size =
        static_cast<std::uint32_t>(page.first + std::uint64_t{page.last - page.first} * i / kMarks);
    const auto slings = static_cast<std::uint32_t>(std::uint64_t{page.most} * i / kMarks);
    svg += fmt::format("<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">{}</text>\n", page.X(size),
                       kHeight - kBottom + 18, size);
    svg += fmt::format("<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{}</text>\n", kLeft - 6,
                       page.Y(slings) + 4, slings);
  }
  svg += fmt::format("<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">slings counted</text>\n",
                     (kLeft + kWidth - kRight) / 2, kHeight - 10);
  return svg;
}

std::string LineOf(const v1::SplitCurve& curve, int number, const Page& page) {
  const v1::CurveLine& line = curve.lines(number);
  const auto place = static_cast<std::size_t>(number);
  const std::string_view colour = kColours[place % kColours.size()];
  std::string points;
  for (int i = 0; i < line.slings_size(); ++i) {
    points += fmt::format("{}{},{}", i == 0 ? "" : " ", page.X(curve.slings_counted(i)),
                          page.Y(line.slings(i)));
  }
  const int name_y = kTop + 20 * (number + 1);
  const std::string stroke = fmt::format("stroke=\"{}\" stroke-width=\"2\" stroke-dasharray=\"{}\"",
                                         colour, kDashes[place % kDashes.size()]);
  return fmt::format(
      "<polyline points=\"{}\" fill=\"none\" {}/>\n"
      "<path d=\"M{} {}h24\" {}/><text x=\"{}\" y=\"{}\">{}</text>\n",
      points, stroke, kWidth - kRight + 16, name_y - 4, stroke, kWidth - kRight + 46, name_y,
      MarkupOf(line.keeper().name()));
}

}  // namespace

std::string ChartOf(const v1::SplitCurve& curve, int columns) {
  const int sizes = curve.slings_counted_size();
  if (sizes == 0) return "";
  const int width = std::clamp(columns - kChartMargin, kColumnsMin, std::max(sizes, kColumnsMin));
  const std::uint32_t most = MostOf(curve);
  std::vector<std::string> rows(kRows, std::string(static_cast<std::size_t>(width), ' '));
  for (int line = 0; line < curve.lines_size(); ++line) {
    for (int x = 0; x < width; ++x) {
      const int i =
          PlaceOf(static_cast<std::uint64_t>(x), static_cast<std::uint64_t>(width - 1), sizes);
      const int y = PlaceOf(curve.lines(line).slings(i), most, kRows);
      char& place = rows[static_cast<std::size_t>(kRows - 1 - y)][static_cast<std::size_t>(x)];
      place = place == ' ' ? LetterOf(line) : kSeveral;
    }
  }
  std::string chart;
  for (int row = 0; row < kRows; ++row) {
    const bool marked = row == 0 || row == kRows - 1;
    const std::string mark = marked ? std::to_string(row == 0 ? most : 0) : "";
    chart +=
        fmt::format("{:>{}} |{}\n", mark, kChartMargin - 2, rows[static_cast<std::size_t>(row)]);
  }
  const std::string first = std::to_string(curve.slings_counted(0));
  const std::string last = std::to_string(curve.slings_counted(sizes - 1));
  chart += fmt::format("{:>{}} +{}\n", "", kChartMargin - 2,
                       std::string(static_cast<std::size_t>(width), '-'));
  chart += fmt::format("{:>{}}{}{:>{}} slings counted\n", "", kChartMargin, first, last,
                       std::max(1, width - static_cast<int>(first.size())));
  for (int line = 0; line < curve.lines_size(); ++line) {
    chart += fmt::format("{:>{}}{}  {}\n", "", kChartMargin, LetterOf(line),
                         Clean(curve.lines(line).keeper().name()));
  }
  if (curve.lines_size() > 1) {
    chart += fmt::format("{:>{}}{}  several\n", "", kChartMargin, kSeveral);
  }
  return chart;
}

std::string SvgOf(const v1::SplitCurve& curve) {
  const int sizes = curve.slings_counted_size();
  const Page page{.first = sizes == 0 ? 0 : curve.slings_counted(0),
                  .last = sizes == 0 ? 0 : curve.slings_counted(sizes - 1),
                  .most = MostOf(curve)};
  std::string svg = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {1}\" width=\"{0}\" "
      "height=\"{1}\" font-family=\"sans-serif\" font-size=\"13\">\n"
      "<title>Slings of each party against the size of the clutch</title>\n",
      kWidth, kHeight);
  svg += Axes(page);
  for (int line = 0; line < curve.lines_size(); ++line) svg += LineOf(curve, line, page);
  return svg + "</svg>\n";
}

void Print(const Terminal& terminal, const v1::SplitCurve& curve) {
  if (terminal.out_is_tty) {
    terminal.out << ChartOf(curve, terminal.width);
    return;
  }
  Row header = {"SLINGS"};
  for (const v1::CurveLine& line : curve.lines()) header.push_back(line.keeper().name());
  std::vector<Row> rows;
  for (int i = 0; i < curve.slings_counted_size(); ++i) {
    Row& row = rows.emplace_back();
    row.push_back(std::to_string(curve.slings_counted(i)));
    for (const v1::CurveLine& line : curve.lines()) {
      row.push_back(std::to_string(line.slings(i)));
    }
  }
  PrintTable(terminal, header, rows);
}

}  // namespace broodpact::cli
