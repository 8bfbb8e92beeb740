#include "server/authority.h"

#include <array>
#include <optional>
#include <utility>

#include "absl/status/status.h"
#include <fmt/format.h>
#include <openssl/x509v3.h>

#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/sync/address.h"
#include "server/certificate.h"
#include <arpa/inet.h>

namespace broodpact::server {
namespace {

constexpr std::int64_t kDayMillis = 86'400'000;
constexpr std::int64_t kAuthorityMillis = 3'653 * kDayMillis;
constexpr std::int64_t kCertificateMillis = 365 * kDayMillis;
constexpr std::int64_t kRenewMillis = 30 * kDayMillis;
// Clocks differ: a certificate made now is good for one who is five minutes behind.
constexpr std::int64_t kBackdateMillis = 300'000;
constexpr const char* kServerName = "broodpact-server";

absl::Status DamagedError() {
  return Fail(absl::StatusCode::kDataLoss, "AUTHORITY_DAMAGED",
              "authority.key and authority.pem in the server's folder do not belong together or "
              "cannot be read; restore both from a backup");
}

sync::Validity ValidFor(std::int64_t now_ms, std::int64_t duration_ms) {
  return {.from_ms = now_ms - kBackdateMillis, .until_ms = now_ms + duration_ms};
}

bool IsIpAddress(const std::string& host) {
  std::array<unsigned char, sizeof(in6_addr)> bytes{};
  return inet_pton(AF_INET, host.c_str(), bytes.data()) == 1 ||
         inet_pton(AF_INET6, host.c_str(), bytes.data()) == 1;
}

absl::StatusOr<std::string> AlternativeNames(const std::vector<std::string>& hosts) {
  std::string names = fmt::format("DNS:{}", kServerName);
  for (const std::string& host : hosts) {
    if (!sync::IsHost(host)) {
      return Fail(absl::StatusCode::kInvalidArgument, "HOST_FORM",
                  fmt::format("'{}' is no host name and no IP address", host));
    }
    names += fmt::format(",{}:{}", IsIpAddress(host) ? "IP" : "DNS", host);
  }
  return names;
}

bool Names(X509* certificate, const std::vector<std::string>& hosts) {
  for (const std::string& host : hosts) {
    const int named = IsIpAddress(host)
                          ? X509_check_ip_asc(certificate, host.c_str(), 0)
                          : X509_check_host(certificate, host.data(), host.size(), 0, nullptr);
    if (named != 1) return false;
  }
  return true;
}

// Reads a certificate file; null if there is none.
absl::StatusOr<sync::CertificateOwner> ReadCertificate(const std::filesystem::path& file) {
  const absl::StatusOr<std::string> pem = device::ReadPrivateFile(file);
  if (absl::IsNotFound(pem.status())) return nullptr;
  if (!pem.ok()) return pem.status();
  return sync::CertificateOfPem(*pem);
}

}  // namespace

absl::StatusOr<device::SecretKey> LoadOrMakeKey(const std::filesystem::path& file) {
  absl::StatusOr<device::SecretKey> loaded = device::SecretKey::Load(file);
  if (!absl::IsNotFound(loaded.status())) return loaded;
  device::SecretKey key = device::SecretKey::Generate();
  BP_RETURN_IF_ERROR(key.Save(file));
  return key;
}

absl::StatusOr<Authority> Authority::Open(const Folder& folder,
                                          const std::vector<std::string>& hosts,
                                          std::int64_t now_ms) {
  BP_ASSIGN_OR_RETURN(const device::SecretKey key, LoadOrMakeKey(folder.authority_key()));
  Authority authority;
  authority.key_ = sync::KeyOfPem(key.Pem());
  BP_ASSIGN_OR_RETURN(authority.certificate_, ReadCertificate(folder.authority_certificate()));
  std::error_code error;
  if (authority.certificate_ == nullptr &&
      !std::filesystem::exists(folder.authority_certificate(), error)) {
    authority.certificate_ = MakeCertificate({.purpose = Purpose::kAuthority,
                                              .common_name = "broodpact authority",
                                              .alternative_names = "",
                                              .validity = ValidFor(now_ms, kAuthorityMillis)},
                                             authority.key_.get(), {.key = authority.key_.get()});
    if (authority.certificate_ == nullptr) return DamagedError();
    BP_RETURN_IF_ERROR(device::WritePrivateFile(folder.authority_certificate(),
                                                sync::PemOf(authority.certificate_.get())));
  }
  if (authority.certificate_ == nullptr ||
      X509_check_private_key(authority.certificate_.get(), authority.key_.get()) != 1) {
    return DamagedError();
  }
  authority.fingerprint_ = sync::FingerprintOf(authority.certificate_.get());
  authority.pem_ = sync::PemOf(authority.certificate_.get());
  BP_RETURN_IF_ERROR(authority.OpenServerCertificate(folder, hosts, now_ms));
  return authority;
}

absl::Status Authority::OpenServerCertificate(const Folder& folder,
                                              const std::vector<std::string>& hosts,
                                              std::int64_t now_ms) {
  BP_ASSIGN_OR_RETURN(const std::string names, AlternativeNames(hosts));
  BP_ASSIGN_OR_RETURN(const device::SecretKey key, LoadOrMakeKey(folder.server_key()));
  server_key_pem_ = key.Pem();
  const sync::KeyOwner server_key = sync::KeyOfPem(server_key_pem_);
  BP_ASSIGN_OR_RETURN(sync::CertificateOwner certificate,
                      ReadCertificate(folder.server_certificate()));
  bool good = false;
  if (certificate != nullptr && X509_check_private_key(certificate.get(), server_key.get()) == 1 &&
      X509_verify(certificate.get(), key_.get()) == 1 && Names(certificate.get(), hosts)) {
    BP_ASSIGN_OR_RETURN(const sync::Validity validity, sync::ValidityOf(certificate.get()));
    good = validity.until_ms - now_ms > kRenewMillis;
  }
  if (!good) {
    certificate =
        MakeCertificate({.purpose = Purpose::kServer,
                         .common_name = kServerName,
                         .alternative_names = names,
                         .validity = ValidFor(now_ms, kCertificateMillis)},
                        server_key.get(), {.certificate = certificate_.get(), .key = key_.get()});
    if (certificate == nullptr) return DamagedError();
    BP_RETURN_IF_ERROR(
        device::WritePrivateFile(folder.server_certificate(), sync::PemOf(certificate.get())));
  }
  server_chain_pem_ = sync::PemOf(certificate.get()) + pem_;
  return absl::OkStatus();
}

absl::StatusOr<std::string> Authority::IssueClient(const DeviceId& device, const PublicKey& tls_key,
                                                   std::int64_t now_ms) const {
  const sync::KeyOwner key = KeyOfBytes(tls_key);
  const std::string name = ToText(device);
  sync::CertificateOwner certificate;
  if (key != nullptr) {
    certificate =
        MakeCertificate({.purpose = Purpose::kClient,
                         .common_name = name,
                         .alternative_names = fmt::format("URI:{}{}", kDeviceUri, name),
                         .validity = ValidFor(now_ms, kCertificateMillis)},
                        key.get(), {.certificate = certificate_.get(), .key = key_.get()});
  }
  if (certificate == nullptr) {
    return Fail(absl::StatusCode::kInvalidArgument, "TLS_KEY_BAD",
                "the key for the certificate is no Ed25519 key");
  }
  return sync::PemOf(certificate.get());
}

}  // namespace broodpact::server
