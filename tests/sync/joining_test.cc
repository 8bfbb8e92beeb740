// Goal: what a device signs to enter is what the protocol says, byte for byte, and a server that is
// away is told. Method: the bytes by hand. tests/server has the calls that work.

#include "client/sync/joining.h"

#include <string>

#include <gtest/gtest.h>

#include "client/base/status.h"

namespace broodpact::sync {
namespace {

using namespace std::string_literals;

// Source: RenewRequest.signature and JoinRequest.tls_key_signature in joining_service.proto.
TEST(Joining, SignsTheBytesThatTheProtocolNames) {
  PublicKey tls_key{};
  tls_key.fill('k');
  Hash cooperative{};
  cooperative.fill('c');
  EXPECT_EQ(RenewalMessage("nonce", tls_key),
            "broodpact renewal v1\0nonce"s + std::string(32, 'k'));
  EXPECT_EQ(JoiningKeyMessage(cooperative, tls_key),
            "broodpact joining key v1\0"s + std::string(32, 'c') + std::string(32, 'k'));
}

TEST(Joining, WithAnAuthorityThatIsNoneGoesNowhere) {
  const Credentials credentials{.address = "127.0.0.1:1", .authority_pem = "no PEM"};
  EXPECT_EQ(ReasonOf(Claim(credentials, "secret", {}, {}).status()), "CERTIFICATE_DAMAGED");
}

}  // namespace
}  // namespace broodpact::sync
