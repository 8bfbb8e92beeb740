#include "client/sync/address.h"

#include <algorithm>
#include <charconv>

#include <fmt/format.h>

namespace broodpact::sync {
namespace {

bool IsHostCharacter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' ||
         c == '-' || c == '_';
}

bool IsIp6Character(char c) {
  return (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F') || (c >= '0' && c <= '9') || c == '.' ||
         c == ':';
}

}  // namespace

bool IsHost(std::string_view host) {
  if (host.empty() || host.size() > kAddressBytesMax || host.front() == '-') return false;
  return std::ranges::all_of(host, IsHostCharacter) ||
         (host.find(':') != std::string_view::npos && std::ranges::all_of(host, IsIp6Character));
}

std::optional<Address> ParseAddress(std::string_view text) {
  if (text.size() > kAddressBytesMax) return std::nullopt;
  const std::size_t colon = text.rfind(':');
  if (colon == std::string_view::npos) return std::nullopt;
  std::string_view host = text.substr(0, colon);
  const std::string_view port = text.substr(colon + 1);
  const bool bracketed = host.size() > 2 && host.front() == '[' && host.back() == ']';
  if (bracketed) host = host.substr(1, host.size() - 2);
  if (!IsHost(host) || bracketed != (host.find(':') != std::string_view::npos)) {
    return std::nullopt;
  }
  Address address{.host = std::string(host)};
  const auto [end, error] = std::from_chars(port.data(), port.data() + port.size(), address.port);
  if (error != std::errc{} || end != port.data() + port.size()) return std::nullopt;
  return address;
}

std::string ToText(const Address& address) {
  if (address.host.find(':') != std::string::npos) {
    return fmt::format("[{}]:{}", address.host, address.port);
  }
  return fmt::format("{}:{}", address.host, address.port);
}

}  // namespace broodpact::sync
