#pragma once

// QR codes of short texts (ISO/IEC 18004), by libqrencode.

#include <string>

#include "absl/status/statusor.h"

#include "cli/sheets/page.h"

namespace broodpact::cli {

// Errors: INVALID_ARGUMENT with reason QR_TOO_LONG.
absl::StatusOr<QrCode> QrCodeOf(const std::string& text);

}  // namespace broodpact::cli
