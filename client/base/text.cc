#include "client/base/text.h"

#include <cstdint>
#include <optional>

#include <fmt/format.h>

#include "client/base/status.h"

namespace broodpact {
namespace {

bool IsContinuation(std::uint8_t byte) {
  return (byte & 0xc0) == 0x80;
}

// Bytes of the character that begins with `lead`, or 0 where none does.
std::size_t SizeOfCharacter(std::uint8_t lead) {
  if (lead < 0x80) return 1;
  if (lead >= 0xc2 && lead <= 0xdf) return 2;
  if (lead >= 0xe0 && lead <= 0xef) return 3;
  if (lead >= 0xf0 && lead <= 0xf4) return 4;
  return 0;
}

// Takes the first character off `rest` (not empty). Nothing if it is not well-formed.
std::optional<char32_t> TakeCharacter(std::string_view& rest) {
  const auto lead = static_cast<std::uint8_t>(rest.front());
  const std::size_t size = SizeOfCharacter(lead);
  if (size == 0 || size > rest.size()) return std::nullopt;
  char32_t character = size == 1 ? lead : lead & (0xffU >> (size + 1));
  for (std::size_t i = 1; i < size; ++i) {
    const auto byte = static_cast<std::uint8_t>(rest[i]);
    if (!IsContinuation(byte)) return std::nullopt;
    character = (character << 6) | (byte & 0x3fU);
  }
  const bool overlong = (size == 3 && character < 0x800) || (size == 4 && character < 0x10000);
  const bool surrogate = character >= 0xd800 && character <= 0xdfff;
  if (overlong || surrogate || character > 0x10ffff) return std::nullopt;
  rest.remove_prefix(size);
  return character;
}

bool IsControl(char32_t character) {
  if (character < 0x20) return true;
  if (character < 0x7f) return false;
  if (character <= 0x9f) return true;
  if (character == 0x2028 || character == 0x2029) return true;
  return (character >= 0x202a && character <= 0x202e) ||
         (character >= 0x2066 && character <= 0x2069);
}

// White space of Unicode (property White_Space), and the two characters without width that show as
// little.
bool IsSpace(char32_t character) {
  switch (character) {
    case 0x20:
    case 0xa0:
    case 0x1680:
    case 0x200b:
    case 0x202f:
    case 0x205f:
    case 0x3000:
    case 0xfeff:
      return true;
    default:
      return character >= 0x2000 && character <= 0x200a;
  }
}

// The last character of `text`, which is not empty and is UTF-8.
char32_t LastCharacter(std::string_view text) {
  std::size_t begin = text.size() - 1;
  while (begin > 0 && IsContinuation(static_cast<std::uint8_t>(text[begin]))) --begin;
  text.remove_prefix(begin);
  return TakeCharacter(text).value_or(0);
}

absl::Status Malformed(std::string_view what, std::string_view fault) {
  return Fail(absl::StatusCode::kInvalidArgument, "TEXT_MALFORMED",
              fmt::format("{} {}", what, fault));
}

}  // namespace

bool IsUtf8(std::string_view text) {
  while (!text.empty()) {
    if (!TakeCharacter(text)) return false;
  }
  return true;
}

absl::Status CheckText(std::string_view what, std::string_view text, std::size_t bytes_max) {
  if (text.size() > bytes_max) {
    return Fail(absl::StatusCode::kInvalidArgument, "NAME_TOO_LONG",
                fmt::format("{} has {} bytes; shorten it to {}", what, text.size(), bytes_max));
  }
  std::string_view rest = text;
  while (!rest.empty()) {
    const auto character = TakeCharacter(rest);
    if (!character) return Malformed(what, "is not UTF-8; enter it again");
    if (IsControl(*character)) return Malformed(what, "has a control character; leave it out");
  }
  return absl::OkStatus();
}

absl::Status CheckName(std::string_view what, std::string_view text, std::size_t bytes_max) {
  if (text.empty()) {
    return Fail(absl::StatusCode::kInvalidArgument, "NAME_EMPTY",
                fmt::format("{} is empty; give one", what));
  }
  BP_RETURN_IF_ERROR(CheckText(what, text, bytes_max));
  std::string_view rest = text;
  if (IsSpace(TakeCharacter(rest).value_or(0)) || IsSpace(LastCharacter(text))) {
    return Malformed(what, "begins or ends with a space; leave it out");
  }
  if (text.find('/') != std::string_view::npos) return Malformed(what, "has a '/'; leave it out");
  return absl::OkStatus();
}

}  // namespace broodpact
