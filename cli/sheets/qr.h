#pragma once

// QR codes (ISO/IEC 18004) by libqrencode.

#include <string>
#include <vector>

namespace broodpact::cli {

// A square of dark and light modules.
struct QrCode {
  int width = 0;
  std::vector<bool> dark{};  // row after row

  bool IsDark(int x, int y) const {
    return dark[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                static_cast<std::size_t>(x)];
  }
};

// The code of a text of at most 1,000 bytes; of no width if there is none for it.
QrCode QrOf(const std::string& text);

// The modules as the `d` of an SVG path, a unit each.
std::string SvgPathOf(const QrCode& code);

}  // namespace broodpact::cli
