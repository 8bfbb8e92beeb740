#pragma once

// Text inside SVG and HTML.

#include <string>
#include <string_view>

namespace broodpact::cli {

// `text` as it stands between tags, or in an attribute: with & < > and " as entities.
std::string MarkupOf(std::string_view text);

}  // namespace broodpact::cli
