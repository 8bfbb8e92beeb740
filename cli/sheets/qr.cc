#include "cli/sheets/qr.h"

#include <memory>

#include <fmt/format.h>

#include <qrencode.h>

namespace broodpact::cli {

QrCode QrOf(const std::string& text) {
  const std::unique_ptr<QRcode, decltype(&QRcode_free)> made(
      QRcode_encodeString8bit(text.c_str(), 0, QR_ECLEVEL_M), &QRcode_free);
  QrCode code;
  if (made == nullptr) return code;
  code.width = made->width;
  const int modules = made->width * made->width;
  for (int i = 0; i < modules; ++i) code.dark.push_back((made->data[i] & 1) != 0);
  return code;
}

std::string SvgPathOf(const QrCode& code) {
  std::string path;
  for (int y = 0; y < code.width; ++y) {
    for (int x = 0; x < code.width; ++x) {
      if (code.IsDark(x, y)) path += fmt::format("M{} {}h1v1h-1z", x, y);
    }
  }
  return path;
}

}  // namespace broodpact::cli
