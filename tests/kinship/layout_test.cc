// Goal: charts can be read: no box lies on another, no line goes through a box, parents stand above
// their offspring. Method: laws over generated pedigrees, and examples.

#include "client/kinship/layout.h"

#include <algorithm>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/kinship/any_pedigree.h"

namespace broodpact::kinship {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

constexpr Spacing kSpacing{.height = 10, .gap = 4, .layer_gap = 6, .line_width = 2};

// A generated pedigree upside down: the last animal is the one asked for.
std::vector<LayoutNode> AnyChart() {
  const auto animals = *AnyOrderedPedigree();
  std::vector<LayoutNode> nodes(animals.size());
  for (std::size_t i = animals.size(); i-- > 0;) {
    nodes[i].parents = animals[i];
    nodes[i].width = *rc::gen::inRange(1, 60);
    for (const Node parent : {animals[i].sire, animals[i].dam}) {
      if (parent == kUnknown) continue;
      nodes[parent].generation = std::max(nodes[parent].generation, nodes[i].generation + 1);
    }
  }
  return nodes;
}

struct Box {
  std::int32_t left = 0, right = 0, top = 0, bottom = 0;
};

std::vector<Box> BoxesOf(const std::vector<LayoutNode>& nodes, const Layout& layout) {
  std::vector<Box> boxes;
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    const Point& corner = layout.corners[i];
    boxes.push_back({.left = corner.x,
                     .right = corner.x + nodes[i].width,
                     .top = corner.y,
                     .bottom = corner.y + kSpacing.height});
  }
  return boxes;
}

RC_GTEST_PROP(Layout, PutsNoBoxOnAnotherAndAllOnThePage, ()) {
  const auto nodes = AnyChart();
  const Layout layout = LayoutOf(nodes, kSpacing);
  const auto boxes = BoxesOf(nodes, layout);
  for (std::size_t i = 0; i < boxes.size(); ++i) {
    RC_ASSERT(boxes[i].left >= 0 && boxes[i].right <= layout.width);
    RC_ASSERT(boxes[i].top >= 0 && boxes[i].bottom <= layout.height);
    for (std::size_t j = 0; j < i; ++j) {
      const bool beside = boxes[i].right <= boxes[j].left || boxes[j].right <= boxes[i].left;
      RC_ASSERT(boxes[i].top != boxes[j].top || beside);
    }
  }
}

// Between layers lines may cross each other; within a layer each goes straight up, beside all
// boxes.
RC_GTEST_PROP(Layout, TakesNoLineThroughABox, ()) {
  const auto nodes = AnyChart();
  const Layout layout = LayoutOf(nodes, kSpacing);
  const auto boxes = BoxesOf(nodes, layout);
  for (const LayoutLine& line : layout.lines) {
    for (std::size_t k = 1; k < line.points.size(); ++k) {
      const Point& lower = line.points[k - 1];
      const Point& upper = line.points[k];
      RC_ASSERT(upper.y < lower.y);
      if (lower.y - upper.y != kSpacing.height) continue;  // between two layers
      RC_ASSERT(lower.x == upper.x);
      for (const Box& box : boxes) {
        RC_ASSERT(box.top != upper.y || upper.x < box.left || upper.x >= box.right);
      }
    }
  }
}

RC_GTEST_PROP(Layout, DrawsEveryParentOnceAboveItsOffspring, ()) {
  const auto nodes = AnyChart();
  const Layout layout = LayoutOf(nodes, kSpacing);
  std::size_t parents = 0;
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    for (const Node parent : {nodes[i].parents.sire, nodes[i].parents.dam}) {
      if (parent == kUnknown) continue;
      ++parents;
      RC_ASSERT(layout.corners[parent].y < layout.corners[i].y);
    }
  }
  RC_ASSERT(layout.lines.size() == parents);
  RC_ASSERT(layout.corners.size() == nodes.size());
}

TEST(Layout, PutsAChildBetweenItsParents) {
  const std::vector<LayoutNode> nodes{{.generation = 0, .width = 10, .parents = {1, 2}},
                                      {.generation = 1, .width = 10},
                                      {.generation = 1, .width = 10}};
  const Layout layout = LayoutOf(nodes, kSpacing);
  EXPECT_THAT(layout.corners, ElementsAre(Point{7, 16}, Point{0, 0}, Point{14, 0}));
  EXPECT_EQ(layout.width, 24);
  EXPECT_EQ(layout.height, 26);
}

TEST(Layout, OfNothingIsEmpty) {
  const Layout layout = LayoutOf({}, kSpacing);
  EXPECT_THAT(layout.corners, IsEmpty());
  EXPECT_EQ(layout.width, 0);
}

}  // namespace
}  // namespace broodpact::kinship
