#include "server/log.h"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/format.h>

#include "client/base/day.h"

namespace broodpact::server {
namespace {

constexpr std::array<std::pair<Level, std::string_view>, 4> kLevels{{{Level::kDebug, "debug"},
                                                                     {Level::kInfo, "info"},
                                                                     {Level::kWarn, "warn"},
                                                                     {Level::kError, "error"}}};

std::string_view NameOf(Level level) {
  for (const auto& [each, name] : kLevels) {
    if (each == level) return name;
  }
  return "";
}

bool IsPlain(std::string_view value) {
  return !value.empty() && std::ranges::all_of(value, [](char c) {
    return c > ' ' && c < 0x7F && c != '"' && c != '=' && c != '\\';
  });
}

// A value with anything unusual in it is quoted, and cannot end its line or begin another.
std::string Quoted(std::string_view value) {
  std::string quoted = "\"";
  for (const char c : value) {
    if (c == '"' || c == '\\') {
      quoted += '\\';
      quoted += c;
    } else if (static_cast<unsigned char>(c) < ' ' || c == 0x7F) {
      quoted += fmt::format("\\x{:02x}", static_cast<unsigned char>(c));
    } else {
      quoted += c;
    }
  }
  return quoted + '"';
}

}  // namespace

std::optional<Level> ParseLevel(std::string_view text) {
  for (const auto& [level, name] : kLevels) {
    if (name == text) return level;
  }
  return std::nullopt;
}

Log::Log(std::ostream& out, Level least, const device::Clock& clock)
    : out_(out), least_(least), clock_(clock) {}

void Log::Write(Level level, std::string_view event, std::initializer_list<Field> fields) const {
  if (level < least_) return;
  std::string line = fmt::format("{} {} {}", InstantText(clock_.NowMillis()), NameOf(level), event);
  for (const Field& field : fields) {
    line +=
        fmt::format(" {}={}", field.name, IsPlain(field.value) ? field.value : Quoted(field.value));
  }
  line += '\n';
  const std::lock_guard lock(mutex_);
  out_ << line << std::flush;
}

}  // namespace broodpact::server
