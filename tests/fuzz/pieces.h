#pragma once

// Pieces in the bytes of a fuzz target: [length, two bytes, the lower first][piece] again and
// again.

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace broodpact::fuzz {

// Takes the next piece off `bytes`, which have two at least; the last one may be cut short.
inline std::string_view TakePiece(std::string_view& bytes) {
  const auto low = static_cast<std::uint8_t>(bytes[0]);
  const auto high = static_cast<std::uint8_t>(bytes[1]);
  bytes.remove_prefix(2);
  const std::string_view piece = bytes.substr(0, low + (std::size_t{high} << 8));
  bytes.remove_prefix(piece.size());
  return piece;
}

// Puts a piece behind `bytes`; of a longer one than the length can say, the beginning.
inline void AppendPiece(std::string& bytes, std::string_view piece) {
  piece = piece.substr(0, 0xFFFF);
  bytes.push_back(static_cast<char>(piece.size() & 0xFFU));
  bytes.push_back(static_cast<char>(piece.size() >> 8U));
  bytes.append(piece);
}

}  // namespace broodpact::fuzz
