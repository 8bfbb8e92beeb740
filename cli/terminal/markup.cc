#include "cli/terminal/markup.h"

namespace broodpact::cli {

std::string MarkupOf(std::string_view text) {
  std::string markup;
  for (const char c : text) {
    switch (c) {
      case '&':
        markup += "&amp;";
        break;
      case '<':
        markup += "&lt;";
        break;
      case '>':
        markup += "&gt;";
        break;
      case '"':
        markup += "&quot;";
        break;
      default:
        markup += c;
    }
  }
  return markup;
}

}  // namespace broodpact::cli
