#include "cli/sheets/qr.h"

#include <memory>

#include "client/base/status.h"
#include <qrencode.h>

namespace broodpact::cli {

absl::StatusOr<QrCode> QrCodeOf(const std::string& text) {
  // Medium correction: a sheet gets folded and stained, and is printed large enough.
  const std::unique_ptr<QRcode, decltype(&QRcode_free)> code(
      QRcode_encodeString(text.c_str(), 0, QR_ECLEVEL_M, QR_MODE_8, 1), &QRcode_free);
  if (code == nullptr) {
    return Fail(absl::StatusCode::kInvalidArgument, "QR_TOO_LONG",
                "the text is too long for a QR code");
  }
  QrCode qr{.size = static_cast<std::size_t>(code->width), .dark = {}};
  qr.dark.reserve(qr.size * qr.size);
  for (std::size_t i = 0; i < qr.size * qr.size; ++i) qr.dark.push_back((code->data[i] & 1) != 0);
  return qr;
}

}  // namespace broodpact::cli
