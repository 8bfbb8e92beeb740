// Any bytes as Bech32m: nothing, or bytes that are written again as the same text in small letters.
// Never a crash.

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "client/base/bech32m.h"
#include "client/base/check.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto bytes = broodpact::DecodeBech32m("brood", text);
  if (!bytes) return 0;
  std::string small(text);
  for (char& c : small) c = static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  BP_CHECK(broodpact::EncodeBech32m("brood", *bytes) == small);
  return 0;
}
