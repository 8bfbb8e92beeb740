#pragma once

// A group's health as text with charts, and as a picture.

#include <string>

#include "broodpact/v1/group_health.pb.h"
#include "cli/show/show.h"

namespace broodpact::cli {

void Print(const Terminal& terminal, const v1::GroupHealth& health);

// The whole SVG document: mature animals by month, and gene diversity by year.
std::string SvgOf(const v1::GroupHealth& health);

}  // namespace broodpact::cli
