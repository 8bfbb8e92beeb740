#pragma once

// Bytes as groups of five bits, and back: what base32 and Bech32m have in common.

#include <optional>
#include <string>
#include <string_view>

namespace broodpact {

// The bits of `bytes`, most significant first, five a character (values 0 .. 31). Zeros fill up the
// last one.
std::string QuintetsOfBytes(std::string_view bytes);

// The bytes whose quintets these are. Nothing if the length cannot be, or bits that fill up the
// last quintet are set. Every character of `quintets` is 0 .. 31.
std::optional<std::string> BytesOfQuintets(std::string_view quintets);

}  // namespace broodpact
