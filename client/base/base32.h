#pragma once

// Base32 (RFC 4648, section 6), lower case, without padding.

#include <optional>
#include <string>
#include <string_view>

namespace broodpact {

std::string EncodeBase32(std::string_view bytes);

// Reads either case. Nothing if a character is foreign, the length cannot be, or unused bits of
// the last character are set (so that every value has one form).
std::optional<std::string> DecodeBase32(std::string_view text);

}  // namespace broodpact
