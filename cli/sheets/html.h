#pragma once

// A sheet as one HTML page that prints well and needs nothing else: no script, no other file.

#include <string>
#include <string_view>

#include "cli/sheets/sheet.h"

namespace broodpact::cli {

std::string HtmlOf(const Sheet& sheet);

// Text as it stands in the page.
std::string EscapedHtml(std::string_view text);

}  // namespace broodpact::cli
