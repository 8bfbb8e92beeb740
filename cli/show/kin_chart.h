#pragma once

// A pedigree chart as a tree of text, as rows, and as a picture.

#include <string>

#include "broodpact/v1/kin_chart.pb.h"
#include "cli/show/show.h"

namespace broodpact::cli {

// For a person a tree in which each animal is drawn once; where it comes again, it is referred to
// by its number. For a program one row a node.
void Print(const Terminal& terminal, const v1::KinChart& chart);

// The whole SVG document. Strong boxes are shared ancestors, grey ones founders; dashed lines lead
// to one of several possible sires.
std::string SvgOf(const v1::KinChart& chart);

// What stands in the box of a node: its name; inbreeding and remarks where there are any.
std::vector<std::string> LabelOf(const v1::ChartNode& node);

}  // namespace broodpact::cli
