#include "client/base/base32.h"

#include "client/base/quintet.h"

namespace broodpact {
namespace {

constexpr std::string_view kAlphabet = "abcdefghijklmnopqrstuvwxyz234567";

}  // namespace

std::string EncodeBase32(std::string_view bytes) {
  std::string text = QuintetsOfBytes(bytes);
  for (char& c : text) c = kAlphabet[static_cast<std::size_t>(c)];
  return text;
}

std::optional<std::string> DecodeBase32(std::string_view text) {
  std::string quintets(text);
  for (char& c : quintets) {
    if (c >= 'a' && c <= 'z') {
      c = static_cast<char>(c - 'a');
    } else if (c >= 'A' && c <= 'Z') {
      c = static_cast<char>(c - 'A');
    } else if (c >= '2' && c <= '7') {
      c = static_cast<char>(c - '2' + 26);
    } else {
      return std::nullopt;
    }
  }
  return BytesOfQuintets(quintets);
}

}  // namespace broodpact
