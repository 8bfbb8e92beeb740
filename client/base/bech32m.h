#pragma once

// Bech32m (BIP-350, 2020): text for bytes that people copy, with a checksum that finds typing
// errors. Used for invite codes, which are longer than the 90 characters of the BIP: the checksum
// still finds every error that it would find by chance, one in 2^30 goes unseen.

#include <optional>
#include <string>
#include <string_view>

namespace broodpact {

// `prefix` is 1 to 83 lower-case letters or digits.
std::string EncodeBech32m(std::string_view prefix, std::string_view bytes);

// The bytes behind `prefix`. Nothing if the text is not Bech32m, has another prefix, mixed case,
// padding that is not zero, or a wrong checksum.
std::optional<std::string> DecodeBech32m(std::string_view prefix, std::string_view text);

}  // namespace broodpact
