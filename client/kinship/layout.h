#pragma once

// Where the boxes of a pedigree chart lie: the oldest generation on top, every animal once, and
// room for every line between them.
//
// Method: layers with a place in each for every line that passes it, ordered by the mean place of
// what they are linked to (Sugiyama, Tagawa & Toda, "Methods for visual understanding of
// hierarchical system structures", IEEE Trans. SMC 11 (1981) 109-125). Whole numbers, so that a
// chart is the same on every machine.

#include <cstdint>
#include <span>
#include <vector>

#include "client/kinship/parents.h"

namespace broodpact::kinship {

struct LayoutNode {
  std::int32_t generation = 0;  // a parent's is above that of its offspring
  std::int32_t width = 1;       // above 0
  Parents parents{};            // numbers of nodes; kUnknown: not in the chart
};

struct Spacing {
  std::int32_t height = 1;      // of a box
  std::int32_t gap = 1;         // between boxes of a layer
  std::int32_t layer_gap = 1;   // between layers
  std::int32_t line_width = 1;  // room for a line that passes a layer
};

struct Point {
  std::int32_t x = 0;
  std::int32_t y = 0;

  friend bool operator==(const Point&, const Point&) = default;
};

// A line from the upper middle of a child, through the gaps of the layers between, to the lower
// middle of a parent.
struct LayoutLine {
  Node child = kUnknown;
  Node parent = kUnknown;
  std::vector<Point> points{};
};

struct Layout {
  std::vector<Point> corners{};  // upper left one of each node, in their order
  std::vector<LayoutLine> lines{};
  std::int32_t width = 0;
  std::int32_t height = 0;
};

// No two boxes overlap, and no line crosses a box. Coordinates are 0 or more.
Layout LayoutOf(std::span<const LayoutNode> nodes, const Spacing& spacing);

}  // namespace broodpact::kinship
