// Goal: a device signs as the standard says, and its secret stays with it. Method: published
// vectors, and key files that are missing, damaged, exposed, of another kind or already there.

#include "client/device/key.h"

#include <fstream>
#include <string>
#include <utility>

#include <gtest/gtest.h>
#include <openssl/evp.h>
#include <openssl/pem.h>

#include "client/base/status.h"
#include "client/device/private_file.h"
#include "tests/base/published.h"
#include "tests/device/temporary_folder.h"
#include <sys/stat.h>

namespace broodpact::device {
namespace {

std::string ReasonOfLoad(const std::filesystem::path& file) {
  return ReasonOf(SecretKey::Load(file).status());
}

// A key of another kind, as PEM.
std::string OtherKindOfKey() {
  EVP_PKEY* const key = EVP_PKEY_Q_keygen(nullptr, nullptr, "EC", "P-256");
  BIO* const bio = BIO_new(BIO_s_mem());
  EXPECT_EQ(PEM_write_bio_PrivateKey(bio, key, nullptr, nullptr, 0, nullptr, nullptr), 1);
  char* data = nullptr;
  const long size = BIO_get_mem_data(bio, &data);
  std::string pem(data, static_cast<std::size_t>(size));
  BIO_free(bio);
  EVP_PKEY_free(key);
  return pem;
}

// Source: RFC 8032, section 7.1; Bernstein et al., sign.input. See the files.
TEST(Key, SignsAsTheStandardDoes) {
  for (const char* file : {"crypto/ed25519_rfc8032.json", "crypto/ed25519_more.json"}) {
    for (const auto& each : PublishedCases(file)) {
      const SecretKey key = SecretKey::OfSeed(BytesAt(each, "secret"));
      EXPECT_EQ(BytesToHex(ViewOf(key.public_key())), TextAt(each, "public"));
      EXPECT_EQ(BytesToHex(ViewOf(key.Sign(BytesAt(each, "message")))), TextAt(each, "signature"))
          << TextAt(each, "name");
    }
  }
}

TEST(Key, IsFreshEachTime) {
  EXPECT_NE(SecretKey::Generate().public_key(), SecretKey::Generate().public_key());
}

TEST(Key, SignsTheSameAfterItWasSavedAndLoaded) {
  const TemporaryFolder folder;
  const SecretKey key = SecretKey::Generate();
  ASSERT_TRUE(key.Save(folder / "key").ok());
  const auto loaded = SecretKey::Load(folder / "key");
  ASSERT_TRUE(loaded.ok()) << loaded.status();
  EXPECT_EQ(loaded->public_key(), key.public_key());
  EXPECT_EQ(loaded->Sign("a commit"), key.Sign("a commit"));
  EXPECT_TRUE(VerifySignature(key.public_key(), "a commit", loaded->Sign("a commit")));
}

TEST(Key, SurvivesAMove) {
  SecretKey key = SecretKey::Generate();
  const PublicKey public_key = key.public_key();
  const SecretKey moved = std::move(key);
  EXPECT_EQ(moved.public_key(), public_key);
  EXPECT_TRUE(VerifySignature(public_key, "m", moved.Sign("m")));
}

TEST(KeyFile, IsNeverReplaced) {
  const TemporaryFolder folder;
  const SecretKey key = SecretKey::Generate();
  ASSERT_TRUE(key.Save(folder / "key").ok());
  const absl::Status again = SecretKey::Generate().Save(folder / "key");
  EXPECT_EQ(ReasonOf(again), "KEY_EXISTS");
  EXPECT_EQ(again.code(), absl::StatusCode::kAlreadyExists);
  EXPECT_EQ(SecretKey::Load(folder / "key").value().public_key(), key.public_key());
}

TEST(KeyFile, IsRefusedWhereOthersMayReadIt) {
  const TemporaryFolder folder;
  ASSERT_TRUE(SecretKey::Generate().Save(folder / "key").ok());
  for (const mode_t mode : {0640U, 0604U, 0660U, 0601U}) {
    ASSERT_EQ(::chmod((folder / "key").c_str(), mode), 0);
    EXPECT_EQ(ReasonOfLoad(folder / "key"), "KEY_EXPOSED") << mode;
  }
  ASSERT_EQ(::chmod((folder / "key").c_str(), 0400), 0);
  EXPECT_EQ(ReasonOfLoad(folder / "key"), "");
}

TEST(KeyFile, IsCalledMissingOrDamaged) {
  const TemporaryFolder folder;
  EXPECT_EQ(ReasonOfLoad(folder / "none"), "KEY_MISSING");
  const std::string pem = SecretKey::Generate().Pem();
  for (const std::string& bytes :
       {std::string(), std::string("no key"), pem.substr(0, pem.size() / 2), OtherKindOfKey(),
        std::string(kPrivateFileBytesMax + 1, 'x')}) {
    ASSERT_TRUE(WritePrivateFile(folder / "key", bytes).ok());
    EXPECT_EQ(ReasonOfLoad(folder / "key"), "KEY_DAMAGED") << bytes.substr(0, 40);
  }
}

}  // namespace
}  // namespace broodpact::device
