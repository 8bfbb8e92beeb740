// Goal: an address is read as it was written, and nothing else passes for one, since it comes from
// an invite code. Method: examples, and the way there and back.

#include "client/sync/address.h"

#include <gtest/gtest.h>

namespace broodpact::sync {
namespace {

TEST(Address, IsReadAsItIsWritten) {
  for (const char* text : {"127.0.0.1:7443", "registry.example.org:1", "[::1]:65535", "a_b-c:0"}) {
    const std::optional<Address> address = ParseAddress(text);
    ASSERT_TRUE(address.has_value()) << text;
    EXPECT_EQ(ToText(*address), text);
  }
}

TEST(Address, OfIp6LosesItsBrackets) {
  EXPECT_EQ(ParseAddress("[fe80::1]:7443"), (Address{.host = "fe80::1", .port = 7'443}));
}

TEST(Address, IsNothingElse) {
  for (const char* text : {"", ":", "host", "host:", ":7443", "host:65536", "host:-1", "host:7443 ",
                           "ho st:7443", "::1:7443", "[host]:7443", "[]:7443", "-host:7443",
                           "host/path:7443", "unix:/tmp/socket", "host:7,443", "dns:///host:1"}) {
    EXPECT_EQ(ParseAddress(text), std::nullopt) << text;
  }
  EXPECT_EQ(ParseAddress(std::string(300, 'a') + ":7443"), std::nullopt);
}

}  // namespace
}  // namespace broodpact::sync
