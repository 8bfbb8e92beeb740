#pragma once

// What each party gets against the size of the clutch, as a picture.

#include <string>

#include "broodpact/v1/registry.pb.h"

namespace broodpact::cli {

// The curve in letters, a letter a party and '*' where several meet, over at most `columns`
// columns, with its scales and a legend. Lines end with a line feed.
std::string ChartOf(const v1::SplitCurve& curve, int columns);

// The curve as an SVG document of one page's width. Lines differ in colour and in dashes.
std::string SvgOf(const v1::SplitCurve& curve);

}  // namespace broodpact::cli
