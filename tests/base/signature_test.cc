// Goal: a signature is accepted exactly where the standard says so, malleable forms not. Method:
// published vectors, good and bad.

#include "client/base/signature.h"

#include <string>

#include <gtest/gtest.h>

#include "tests/base/published.h"

namespace broodpact {
namespace {

// Whether the signature of a published case is accepted, forms of wrong length not.
bool IsAccepted(const nlohmann::json& each) {
  const auto key = PublicKeyOfBytes(BytesAt(each, "public"));
  const auto signature = SignatureOfBytes(BytesAt(each, "signature"));
  return key && signature && VerifySignature(*key, BytesAt(each, "message"), *signature);
}

// Source: RFC 8032, section 7.1; Bernstein et al., sign.input. See the files.
TEST(Signatures, OfTheStandardAreAccepted) {
  for (const char* file : {"crypto/ed25519_rfc8032.json", "crypto/ed25519_more.json"}) {
    for (const auto& each : PublishedCases(file)) {
      EXPECT_TRUE(IsAccepted(each)) << TextAt(each, "name");
    }
  }
}

// Source: Project Wycheproof, ed25519_test.json. S >= L, truncated and garbled forms among them.
TEST(Signatures, AreAcceptedAndRefusedAsWycheproofSays) {
  int refused = 0;
  for (const auto& each : PublishedCases("crypto/ed25519_verify_wycheproof.json")) {
    const bool valid = each.at("valid").get<bool>();
    refused += valid ? 0 : 1;
    EXPECT_EQ(IsAccepted(each), valid) << each.at("tcId") << ": " << TextAt(each, "comment");
  }
  EXPECT_GT(refused, 10);
}

TEST(Signatures, AreRefusedOverAnotherMessageAndByAnotherKey) {
  const auto cases = PublishedCases("crypto/ed25519_rfc8032.json");
  const auto key = PublicKeyOfBytes(BytesAt(cases[1], "public")).value();
  const auto other_key = PublicKeyOfBytes(BytesAt(cases[2], "public")).value();
  auto signature = SignatureOfBytes(BytesAt(cases[1], "signature")).value();
  const std::string message = BytesAt(cases[1], "message");
  ASSERT_TRUE(VerifySignature(key, message, signature));
  EXPECT_FALSE(VerifySignature(key, message + "x", signature));
  EXPECT_FALSE(VerifySignature(other_key, message, signature));
  EXPECT_FALSE(VerifySignature({}, message, signature));
  signature[63] ^= 0x80;
  EXPECT_FALSE(VerifySignature(key, message, signature));
}

TEST(Keys, NameTheirDeviceByTheirHash) {
  const PublicKey key = Sha256("a key");
  EXPECT_EQ(DeviceOf(key).bytes, FirstHalf<DeviceId>(Sha256(ViewOf(key))).bytes);
  EXPECT_EQ(InviteOf(key).bytes, DeviceOf(key).bytes);
  EXPECT_EQ(PublicKeyOfBytes("short"), std::nullopt);
  EXPECT_EQ(SignatureOfBytes(std::string(65, 's')), std::nullopt);
}

}  // namespace
}  // namespace broodpact
