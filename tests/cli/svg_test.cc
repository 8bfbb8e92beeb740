// Goal: a picture is well-formed whatever names keepers choose. Method: an example.

#include "cli/show/svg.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace broodpact::cli {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

TEST(Svg, EscapesWhatWouldEndATag) {
  Svg svg(10, 20, "<a & b>");
  svg.Text(1, 2, "\"x\" < y\n");
  const std::string text = std::move(svg).Finish();
  EXPECT_THAT(text, HasSubstr("<title>&lt;a &amp; b&gt;</title>"));
  EXPECT_THAT(text, HasSubstr("<text x=\"1\" y=\"2\">&quot;x&quot; &lt; y?</text>"));
}

TEST(Svg, DrawsInTheOrderOfAdding) {
  Svg svg(10, 20, "t");
  const std::pair<std::int32_t, std::int32_t> points[] = {{0, 1}, {2, 3}};
  svg.Line(points, Stroke::kDashed);
  svg.Box({1, 2, 3, 4}, "#fff", Stroke::kStrong);
  const std::string text = std::move(svg).Finish();
  EXPECT_LT(text.find("<polyline points=\"0,1 2,3\""), text.find("<rect x=\"1\" y=\"2\""));
  EXPECT_THAT(text, Not(HasSubstr("nan")));
}

}  // namespace
}  // namespace broodpact::cli
