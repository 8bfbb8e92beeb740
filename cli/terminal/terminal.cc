#include "cli/terminal/terminal.h"

#include <fmt/format.h>

namespace broodpact::cli {
namespace {

// SGR parameters of ECMA-48.
std::string_view CodeOf(Tone tone) {
  switch (tone) {
    case Tone::kPlain:
      return "";
    case Tone::kInTheWay:
      return "31";
    case Tone::kLookAtIt:
      return "33";
    case Tone::kNowSo:
      return "32";
    case Tone::kSecondary:
      return "2";
  }
  return "";
}

// Whether a control character begins here: C0, DEL, or C1 as UTF-8 (U+0080 to U+009F).
std::size_t ControlSize(std::string_view rest) {
  const auto first = static_cast<unsigned char>(rest[0]);
  if (first < 0x20 || first == 0x7F) return 1;
  if (first != 0xC2 || rest.size() < 2) return 0;
  const auto second = static_cast<unsigned char>(rest[1]);
  return second >= 0x80 && second <= 0x9F ? 2 : 0;
}

}  // namespace

std::string Toned(const Terminal& terminal, Tone tone, std::string_view text) {
  if (!terminal.colour || tone == Tone::kPlain || text.empty()) return std::string(text);
  return fmt::format("\x1b[{}m{}\x1b[0m", CodeOf(tone), text);
}

std::string Clean(std::string_view text) {
  std::string clean;
  clean.reserve(text.size());
  while (!text.empty()) {
    const std::size_t control = ControlSize(text);
    clean += control > 0 ? '?' : text[0];
    text.remove_prefix(control > 0 ? control : 1);
  }
  return clean;
}

void Caution(const Terminal& terminal, std::string_view sentence) {
  if (!terminal.messages_are_tty || terminal.format == Format::kJson) return;
  terminal.messages << Toned(terminal, Tone::kSecondary, sentence) << '\n';
}

}  // namespace broodpact::cli
