#pragma once

// QR codes of short texts (ISO/IEC 18004), by libqrencode.

#include <cstddef>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

namespace broodpact::cli {

// A square of modules, row by row; true is dark. Without the quiet zone around it, which is four
// modules wide.
struct QrCode {
  std::size_t size = 0;
  std::vector<bool> dark{};

  bool IsDark(std::size_t row, std::size_t column) const { return dark[row * size + column]; }
};

inline constexpr std::size_t kQuietZone = 4;

// Errors: INVALID_ARGUMENT with reason QR_TOO_LONG.
absl::StatusOr<QrCode> QrCodeOf(const std::string& text);

}  // namespace broodpact::cli
