// Goal: what sealing is made of is what the standards say, through the functions that it calls.
// Method: published vectors; changes that must be noticed.

#include <algorithm>
#include <string>

#include <gtest/gtest.h>

#include "client/device/internal/aes_gcm.h"
#include "client/device/internal/derive.h"
#include "client/device/internal/x25519.h"
#include "tests/base/published.h"

namespace broodpact::device {
namespace {

SecretBytes SecretAt(const nlohmann::json& each, const char* key) {
  return SecretBytes::OfBytes(BytesAt(each, key)).value();
}

X25519Point PointAt(const nlohmann::json& each, const char* key) {
  return SecretAt(each, key).bytes();
}

std::string HexOf(const X25519Point& point) {
  return BytesToHex(ViewOf(point));
}

// Source: RFC 7748, section 5.2, the two vectors.
TEST(X25519, IsThePublishedMultiplication) {
  for (const auto& each : PublishedCases("crypto/x25519.json", "scalarmult")) {
    const auto out = X25519(SecretAt(each, "scalar"), PointAt(each, "u"));
    ASSERT_TRUE(out.has_value());
    EXPECT_EQ(BytesToHex(out->view()), TextAt(each, "out"));
  }
}

// Source: RFC 7748, section 5.2, iterated.
TEST(X25519, IsThePublishedOneAfterAThousandRounds) {
  const auto each = PublishedCases("crypto/x25519.json", "iterate").front();
  SecretBytes scalar = SecretAt(each, "start");
  X25519Point u = scalar.bytes();
  for (int round = 1; round <= 1000; ++round) {
    const auto out = X25519(scalar, u);
    ASSERT_TRUE(out.has_value());
    u = scalar.bytes();
    scalar = *out;
    if (round == 1) {
      EXPECT_EQ(BytesToHex(scalar.view()), TextAt(each, "after_1"));
    }
  }
  EXPECT_EQ(BytesToHex(scalar.view()), TextAt(each, "after_1000"));
}

// Source: RFC 7748, section 6.1.
TEST(X25519, GivesBothEndsTheSameSecret) {
  const auto each = PublishedCases("crypto/x25519.json", "dh").front();
  const SecretBytes alice = SecretAt(each, "alice_private");
  const SecretBytes bob = SecretAt(each, "bob_private");
  EXPECT_EQ(HexOf(X25519Public(alice)), TextAt(each, "alice_public"));
  EXPECT_EQ(HexOf(X25519Public(bob)), TextAt(each, "bob_public"));
  EXPECT_EQ(BytesToHex(X25519(alice, X25519Public(bob)).value().view()), TextAt(each, "shared"));
  EXPECT_EQ(BytesToHex(X25519(bob, X25519Public(alice)).value().view()), TextAt(each, "shared"));
}

// Points of small order: 0, 1, -1 and p (RFC 7748, section 6.1, on the check for zeros).
TEST(X25519, RefusesAPeerThatGivesNoSecret) {
  const SecretBytes scalar = SecretBytes::Fresh(SystemRandomness());
  X25519Point point{};
  EXPECT_FALSE(X25519(scalar, point).has_value());
  point[0] = 1;
  EXPECT_FALSE(X25519(scalar, point).has_value());
  point.fill(0xff);
  point[0] = 0xec;
  point[31] = 0x7f;
  EXPECT_FALSE(X25519(scalar, point).has_value());
  point[0] = 0xed;
  EXPECT_FALSE(X25519(scalar, point).has_value());
}

// Source: RFC 5869, appendix A.1 to A.3.
TEST(Derive, IsThePublishedHkdf) {
  for (const auto& each : PublishedCases("crypto/hkdf_sha256.json")) {
    std::string out(each.at("L").get<std::size_t>(), '\0');
    Hkdf(BytesAt(each, "ikm"), BytesAt(each, "salt"), BytesAt(each, "info"),
         {reinterpret_cast<std::uint8_t*>(out.data()), out.size()});
    EXPECT_EQ(BytesToHex(out), TextAt(each, "okm"));
    // The extract step alone is an HMAC keyed by the salt, where there is one (section 2.2).
    if (BytesAt(each, "salt").empty()) continue;
    EXPECT_EQ(ToHex(Hmac(BytesAt(each, "salt"), BytesAt(each, "ikm"))), TextAt(each, "prk"));
  }
}

TEST(Derive, GivesTheFirstBytesAsAKey) {
  const SecretBytes secret = SecretBytes::OfBytes(std::string(32, 's')).value();
  std::string longer(64, '\0');
  Hkdf(secret.view(), "salt", "info",
       {reinterpret_cast<std::uint8_t*>(longer.data()), longer.size()});
  EXPECT_EQ(DeriveKey(secret, "salt", "info").view(), longer.substr(0, 32));
  EXPECT_FALSE(DeriveKey(secret, "salt", "info ") == DeriveKey(secret, "salt", "info"));
}

// Source: RFC 4231, sections 4.2 to 4.5, 4.7 and 4.8.
TEST(Derive, IsThePublishedHmac) {
  for (const auto& each : PublishedCases("crypto/hmac_sha256.json")) {
    const Hash mac = Hmac(BytesAt(each, "key"), BytesAt(each, "message"));
    EXPECT_EQ(ToHex(mac), TextAt(each, "mac"));
    for (std::size_t i = 0; i < mac.size(); ++i) {
      Hash other = mac;
      other[i] ^= 0x10;
      EXPECT_FALSE(IsSameMac(mac, other));
    }
    EXPECT_TRUE(IsSameMac(mac, Hash(mac)));
  }
}

// Source: NIST CAVP gcmEncryptExtIV256.rsp; see the file.
TEST(AesGcm, IsThePublishedOneAndNoticesEveryChangedByte) {
  for (const auto& each : PublishedCases("crypto/aes_256_gcm.json")) {
    const SecretBytes key = SecretAt(each, "key");
    GcmNonce nonce{};
    const std::string iv = BytesAt(each, "iv");
    std::copy(iv.begin(), iv.end(), nonce.begin());
    const std::string aad = BytesAt(each, "aad");
    const std::string text = BytesAt(each, "plaintext");
    const std::string encrypted = EncryptGcm(key, nonce, aad, text);
    EXPECT_EQ(BytesToHex(encrypted), TextAt(each, "ciphertext") + TextAt(each, "tag"))
        << TextAt(each, "name");
    EXPECT_EQ(DecryptGcm(key, nonce, aad, encrypted), text);
    for (std::size_t i = 0; i < encrypted.size(); ++i) {
      std::string other = encrypted;
      other[i] = static_cast<char>(other[i] ^ 1);
      EXPECT_EQ(DecryptGcm(key, nonce, aad, other), std::nullopt);
    }
    EXPECT_EQ(DecryptGcm(key, nonce, aad + "x", encrypted), std::nullopt);
    EXPECT_EQ(DecryptGcm(key, nonce, aad, encrypted.substr(1)), std::nullopt);
    EXPECT_EQ(DecryptGcm(SecretBytes(), nonce, aad, encrypted), std::nullopt);
    nonce[0] ^= 1;
    EXPECT_EQ(DecryptGcm(key, nonce, aad, encrypted), std::nullopt);
  }
  EXPECT_EQ(DecryptGcm(SecretBytes(), {}, "", "shorter than 16"), std::nullopt);
}

TEST(SecretBytes, AreComparedWhole) {
  SecretBytes a = SecretBytes::Fresh(SystemRandomness());
  SecretBytes b = a;
  EXPECT_TRUE(a == b);
  for (std::uint8_t& byte : b.bytes()) {
    byte ^= 1;
    EXPECT_FALSE(a == b);
    byte ^= 1;
  }
  EXPECT_EQ(SecretBytes::OfBytes(std::string(31, 's')), std::nullopt);
}

}  // namespace
}  // namespace broodpact::device
