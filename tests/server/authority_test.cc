// Goal: the authority outlives restarts, issues certificates that name a device and nothing else,
// and says when its files do not belong together. Method: folders, and OpenSSL's own verification.

#include "server/authority.h"

#include <filesystem>

#include <gtest/gtest.h>
#include <openssl/x509v3.h>

#include "client/base/status.h"
#include "client/device/clock.h"
#include "client/device/private_file.h"
#include "client/sync/openssl.h"
#include "tests/device/temporary_folder.h"

namespace broodpact::server {
namespace {

constexpr std::int64_t kDayMillis = 86'400'000;

std::int64_t Now() {
  return device::SystemClock().NowMillis();
}

// Whether OpenSSL, by itself, finds the certificate good for `purpose` under the authority.
bool Verifies(const Authority& authority, const std::string& pem, int purpose) {
  const sync::CertificateOwner root = sync::CertificateOfPem(authority.pem());
  const sync::CertificateOwner leaf = sync::CertificateOfPem(pem);
  X509_STORE* const store = X509_STORE_new();
  X509_STORE_add_cert(store, root.get());
  X509_STORE_CTX* const context = X509_STORE_CTX_new();
  X509_STORE_CTX_init(context, store, leaf.get(), nullptr);
  X509_STORE_CTX_set_purpose(context, purpose);
  const bool good = X509_verify_cert(context) == 1;
  X509_STORE_CTX_free(context);
  X509_STORE_free(store);
  return good;
}

class AuthorityTest : public ::testing::Test {
 protected:
  absl::StatusOr<Authority> Open(const std::vector<std::string>& hosts = {"127.0.0.1"},
                                 std::int64_t now_ms = Now()) {
    return Authority::Open(Folder(folder_.path()), hosts, now_ms);
  }

  std::string ServerPem() { return *device::ReadPrivateFile(folder_ / "server.pem"); }

  device::TemporaryFolder folder_;
  device::SecretKey tls_key_ = device::SecretKey::Generate();
  DeviceId device_ = DeviceOf(device::SecretKey::Generate().public_key());
};

TEST_F(AuthorityTest, StaysTheSameOverRestarts) {
  const auto first = Open();
  ASSERT_TRUE(first.ok()) << first.status();
  const auto second = Open();
  ASSERT_TRUE(second.ok()) << second.status();
  EXPECT_EQ(first->fingerprint(), second->fingerprint());
  EXPECT_EQ(first->server_chain_pem(), second->server_chain_pem());
}

TEST_F(AuthorityTest, VouchesForItsServerAsAServerOnly) {
  const auto authority = Open();
  ASSERT_TRUE(authority.ok());
  EXPECT_TRUE(Verifies(*authority, ServerPem(), X509_PURPOSE_SSL_SERVER));
  EXPECT_FALSE(Verifies(*authority, ServerPem(), X509_PURPOSE_SSL_CLIENT));
}

TEST_F(AuthorityTest, NamesTheServerByItsHostsAndByOneNameForAll) {
  ASSERT_TRUE(Open({"registry.example.org", "192.0.2.7", "::1"}).ok());
  const sync::CertificateOwner certificate = sync::CertificateOfPem(ServerPem());
  EXPECT_EQ(X509_check_host(certificate.get(), "broodpact-server", 0, 0, nullptr), 1);
  EXPECT_EQ(X509_check_host(certificate.get(), "registry.example.org", 0, 0, nullptr), 1);
  EXPECT_EQ(X509_check_ip_asc(certificate.get(), "192.0.2.7", 0), 1);
  EXPECT_EQ(X509_check_ip_asc(certificate.get(), "::1", 0), 1);
  EXPECT_EQ(X509_check_host(certificate.get(), "other.example.org", 0, 0, nullptr), 0);
}

TEST_F(AuthorityTest, RenewsTheServersCertificateForANewHostOrInItsLastMonth) {
  ASSERT_TRUE(Open().ok());
  const std::string first = ServerPem();
  ASSERT_TRUE(Open({"127.0.0.1"}, Now() + 300 * kDayMillis).ok());
  EXPECT_EQ(ServerPem(), first);
  ASSERT_TRUE(Open({"127.0.0.1", "192.0.2.7"}).ok());
  const std::string second = ServerPem();
  EXPECT_NE(second, first);
  ASSERT_TRUE(Open({"127.0.0.1"}, Now() + 340 * kDayMillis).ok());
  EXPECT_NE(ServerPem(), second);
}

TEST_F(AuthorityTest, IssuesACertificateThatNamesTheDevice) {
  const auto authority = Open();
  ASSERT_TRUE(authority.ok());
  const auto pem = authority->IssueClient(device_, tls_key_.public_key(), Now());
  ASSERT_TRUE(pem.ok()) << pem.status();
  EXPECT_TRUE(Verifies(*authority, *pem, X509_PURPOSE_SSL_CLIENT));
  EXPECT_FALSE(Verifies(*authority, *pem, X509_PURPOSE_SSL_SERVER));
  const sync::CertificateOwner certificate = sync::CertificateOfPem(*pem);
  const sync::KeyOwner key = sync::KeyOfPem(tls_key_.Pem());
  EXPECT_EQ(X509_check_private_key(certificate.get(), key.get()), 1);
  const auto validity = sync::ValidityOf(certificate.get());
  ASSERT_TRUE(validity.ok());
  EXPECT_LT(validity->from_ms, Now());
  EXPECT_NEAR(static_cast<double>(validity->until_ms - Now()) / kDayMillis, 365.0, 0.1);
  const sync::BioOwner text(BIO_new(BIO_s_mem()));
  X509_print(text.get(), certificate.get());
  char* words = nullptr;
  const long size = BIO_get_mem_data(text.get(), &words);
  const std::string printed(words, static_cast<std::size_t>(size));
  EXPECT_NE(printed.find("URI:broodpact:device:" + ToText(device_)), std::string::npos);
  EXPECT_NE(printed.find("CA:FALSE"), std::string::npos);
}

TEST_F(AuthorityTest, OfAnotherFolderVouchesForNobodyHere) {
  device::TemporaryFolder elsewhere;
  const auto here = Open();
  const auto there = Authority::Open(Folder(elsewhere.path()), {}, Now());
  ASSERT_TRUE(here.ok() && there.ok());
  EXPECT_NE(here->fingerprint(), there->fingerprint());
  const auto pem = there->IssueClient(device_, tls_key_.public_key(), Now());
  EXPECT_FALSE(Verifies(*here, *pem, X509_PURPOSE_SSL_CLIENT));
}

TEST_F(AuthorityTest, SaysThatItsFilesDoNotBelongTogether) {
  ASSERT_TRUE(Open().ok());
  std::filesystem::remove(folder_ / "authority.key");
  EXPECT_EQ(ReasonOf(Open().status()), "AUTHORITY_DAMAGED");
}

TEST_F(AuthorityTest, SaysThatItsCertificateIsDamaged) {
  ASSERT_TRUE(Open().ok());
  ASSERT_TRUE(device::WritePrivateFile(folder_ / "authority.pem", "no PEM").ok());
  EXPECT_EQ(ReasonOf(Open().status()), "AUTHORITY_DAMAGED");
}

TEST_F(AuthorityTest, TakesNoHostThatCouldSaySomethingElse) {
  for (const char* host : {"a,DNS:b", "", "with space", "a\nb"}) {
    EXPECT_EQ(ReasonOf(Open({host}).status()), "HOST_FORM") << host;
  }
}

}  // namespace
}  // namespace broodpact::server
