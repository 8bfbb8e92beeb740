#pragma once

// A picture as SVG 1.1: boxes, lines and text, in the order in which they are added.
//
// Written by hand and not with cairo: that would draw every letter as an outline of the fonts of
// this machine, so that nobody could search the text or copy a name from it.

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <utility>

namespace broodpact::cli {

enum class Stroke { kPlain, kStrong, kDashed };

// Lengths are pixels, from the upper left corner.
struct SvgArea {
  std::int32_t x = 0;
  std::int32_t y = 0;
  std::int32_t width = 0;
  std::int32_t height = 0;
};

class Svg {
 public:
  Svg(std::int32_t width, std::int32_t height, std::string_view title);

  void Box(const SvgArea& area, std::string_view fill, Stroke stroke);
  void Line(std::span<const std::pair<std::int32_t, std::int32_t>> points, Stroke stroke);
  // `x` and `y` are the left end of the line that the letters stand on.
  void Text(std::int32_t x, std::int32_t y, std::string_view text);

  // The whole document.
  std::string Finish() &&;

 private:
  std::string text_;
};

// Pixels that a text of so many columns takes, at most, in the type of Svg::Text.
inline constexpr std::int32_t kSvgColumn = 8;
inline constexpr std::int32_t kSvgRow = 16;

}  // namespace broodpact::cli
