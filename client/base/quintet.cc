#include "client/base/quintet.h"

#include <cstdint>

namespace broodpact {

std::string QuintetsOfBytes(std::string_view bytes) {
  std::string quintets;
  quintets.reserve((bytes.size() * 8 + 4) / 5);
  std::uint32_t pending = 0;
  unsigned bits = 0;
  for (const char byte : bytes) {
    pending = (pending << 8) | static_cast<std::uint8_t>(byte);
    bits += 8;
    while (bits >= 5) {
      bits -= 5;
      quintets.push_back(static_cast<char>((pending >> bits) & 31));
    }
  }
  if (bits > 0) quintets.push_back(static_cast<char>((pending << (5 - bits)) & 31));
  return quintets;
}

std::optional<std::string> BytesOfQuintets(std::string_view quintets) {
  std::string bytes;
  bytes.reserve(quintets.size() * 5 / 8);
  std::uint32_t pending = 0;
  unsigned bits = 0;
  for (const char quintet : quintets) {
    pending = ((pending << 5) | static_cast<std::uint8_t>(quintet)) & 0xfff;
    bits += 5;
    if (bits >= 8) {
      bits -= 8;
      bytes.push_back(static_cast<char>((pending >> bits) & 0xff));
    }
  }
  // Five bits or more would be a quintet that carries nothing.
  if (bits >= 5) return std::nullopt;
  if ((pending & ((1U << bits) - 1)) != 0) return std::nullopt;
  return bytes;
}

}  // namespace broodpact
