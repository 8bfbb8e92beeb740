#include "client/base/id.h"

#include <algorithm>

#include "client/base/base32.h"

namespace broodpact {

std::string IdText(const IdBytes& id) {
  return EncodeBase32(ViewOf(id));
}

std::optional<IdBytes> ParseIdText(std::string_view text) {
  if (text.size() != kIdTextSize) return std::nullopt;
  const auto bytes = DecodeBase32(text);
  if (!bytes) return std::nullopt;
  return IdOfBytes(*bytes);
}

std::optional<IdBytes> IdOfBytes(std::string_view bytes) {
  IdBytes id;
  if (bytes.size() != id.size()) return std::nullopt;
  std::copy(bytes.begin(), bytes.end(), id.begin());
  return id;
}

}  // namespace broodpact
