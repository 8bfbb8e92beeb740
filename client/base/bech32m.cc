#include "client/base/bech32m.h"

#include <algorithm>
#include <array>
#include <cstdint>

#include "client/base/check.h"
#include "client/base/quintet.h"

namespace broodpact {
namespace {

constexpr std::string_view kAlphabet = "qpzry9x8gf2tvdw0s3jn54khce6mua7l";
constexpr std::uint32_t kBech32m = 0x2bc830a3;
constexpr std::size_t kChecksumSize = 6;
constexpr std::size_t kPrefixSizeMax = 83;

// What the BIP allows in a prefix; what this project writes there is narrower.
bool IsPrintable(char c) {
  return c >= 0x21 && c <= 0x7e;
}
bool IsUpper(char c) {
  return c >= 'A' && c <= 'Z';
}
bool IsLower(char c) {
  return c >= 'a' && c <= 'z';
}
char ToLower(char c) {
  return IsUpper(c) ? static_cast<char>(c - 'A' + 'a') : c;
}

// The remainder of one more quintet, in the BCH code of BIP-173.
std::uint32_t Step(std::uint32_t remainder, std::uint32_t quintet) {
  constexpr std::array<std::uint32_t, 5> kGenerator = {0x3b6a57b2, 0x26508e6d, 0x1ea119fa,
                                                       0x3d4233dd, 0x2a1462b3};
  const std::uint32_t top = remainder >> 25;
  remainder = ((remainder & 0x1ffffff) << 5) ^ quintet;
  for (std::size_t i = 0; i < kGenerator.size(); ++i) {
    if (((top >> i) & 1) != 0) remainder ^= kGenerator[i];
  }
  return remainder;
}

// The remainder of the prefix, as BIP-173 expands it, and the quintets behind it.
std::uint32_t RemainderOf(std::string_view prefix, std::string_view quintets) {
  std::uint32_t remainder = 1;
  for (const char c : prefix) remainder = Step(remainder, static_cast<std::uint8_t>(c) >> 5);
  remainder = Step(remainder, 0);
  for (const char c : prefix) remainder = Step(remainder, static_cast<std::uint8_t>(c) & 31);
  for (const char c : quintets) remainder = Step(remainder, static_cast<std::uint8_t>(c));
  return remainder;
}

}  // namespace

std::string EncodeBech32m(std::string_view prefix, std::string_view bytes) {
  BP_CHECK(!prefix.empty() && prefix.size() <= kPrefixSizeMax);
  BP_CHECK(std::all_of(prefix.begin(), prefix.end(),
                       [](char c) { return IsLower(c) || (c >= '0' && c <= '9'); }));
  std::string quintets = QuintetsOfBytes(bytes);
  const std::uint32_t checksum =
      RemainderOf(prefix, quintets + std::string(kChecksumSize, '\0')) ^ kBech32m;
  for (std::size_t i = 0; i < kChecksumSize; ++i) {
    quintets.push_back(static_cast<char>((checksum >> (5 * (kChecksumSize - 1 - i))) & 31));
  }

  std::string text(prefix);
  text.push_back('1');
  for (const char quintet : quintets) text.push_back(kAlphabet[static_cast<std::size_t>(quintet)]);
  return text;
}

std::optional<std::string> DecodeBech32m(std::string_view prefix, std::string_view text) {
  if (prefix.empty() || prefix.size() > kPrefixSizeMax) return std::nullopt;
  if (text.size() < prefix.size() + 1 + kChecksumSize) return std::nullopt;
  if (!std::all_of(prefix.begin(), prefix.end(), IsPrintable)) return std::nullopt;
  const bool upper = std::any_of(text.begin(), text.end(), IsUpper);
  if (upper && std::any_of(text.begin(), text.end(), IsLower)) return std::nullopt;

  std::string lower(text);
  std::transform(lower.begin(), lower.end(), lower.begin(), ToLower);
  if (lower.substr(0, prefix.size()) != prefix || lower[prefix.size()] != '1') return std::nullopt;

  std::string quintets = lower.substr(prefix.size() + 1);
  for (char& c : quintets) {
    const std::size_t value = kAlphabet.find(c);
    if (value == std::string_view::npos) return std::nullopt;
    c = static_cast<char>(value);
  }
  if (RemainderOf(prefix, quintets) != kBech32m) return std::nullopt;
  quintets.resize(quintets.size() - kChecksumSize);
  return BytesOfQuintets(quintets);
}

}  // namespace broodpact
