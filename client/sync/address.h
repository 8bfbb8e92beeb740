#pragma once

// Where a server is: "host:port", with brackets around an IPv6 host ("[::1]:7443").

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace broodpact::sync {

inline constexpr std::size_t kAddressBytesMax = 255;

struct Address {
  std::string host;  // without brackets
  std::uint16_t port = 0;

  friend bool operator==(const Address&, const Address&) = default;
};

// Whether `host` is a host name or an IP address by its characters alone.
bool IsHost(std::string_view host);

// Reads an address. Nothing if it is not one. Port 0 is one: "any free port", for a listener.
std::optional<Address> ParseAddress(std::string_view text);

std::string ToText(const Address& address);

}  // namespace broodpact::sync
