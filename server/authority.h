#pragma once

// The server's own certificate authority: made at the first start, kept in the server's folder. It
// vouches for the server, and for every device that joined. Whoever has its fingerprint, from an
// invite code, knows the server by it.

#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/device/key.h"
#include "client/sync/certificate.h"
#include "server/folder.h"

namespace broodpact::server {

// What the URI of a client certificate begins with; the device's id follows.
inline constexpr std::string_view kDeviceUri = "broodpact:device:";

// Thread-safe once made.
class Authority {
 public:
  // Loads the authority and the server's certificate; makes what is missing, and renews the
  // server's certificate when it is about to expire or does not name every one of `hosts` (host
  // names and IP addresses).
  //
  // Errors: those of SecretKey::Load and of files; DATA_LOSS with reason AUTHORITY_DAMAGED;
  // INVALID_ARGUMENT with reason HOST_FORM.
  static absl::StatusOr<Authority> Open(const Folder& folder, const std::vector<std::string>& hosts,
                                        std::int64_t now_ms);

  // SHA-256 of the authority's certificate.
  const Hash& fingerprint() const { return fingerprint_; }

  // For TLS: the authority's certificate, the server's with the authority's behind it, its key.
  const std::string& pem() const { return pem_; }
  const std::string& server_chain_pem() const { return server_chain_pem_; }
  const std::string& server_key_pem() const { return server_key_pem_; }

  // A certificate for a device, as PEM, good for a year from `now_ms`.
  // Errors: INVALID_ARGUMENT with reason TLS_KEY_BAD.
  absl::StatusOr<std::string> IssueClient(const DeviceId& device, const PublicKey& tls_key,
                                          std::int64_t now_ms) const;

 private:
  Authority() = default;
  absl::Status OpenServerCertificate(const Folder& folder, const std::vector<std::string>& hosts,
                                     std::int64_t now_ms);

  sync::KeyOwner key_;
  sync::CertificateOwner certificate_;
  Hash fingerprint_{};
  std::string pem_;
  std::string server_chain_pem_;
  std::string server_key_pem_;
};

// A secret key from `file`; made and saved there if there is none.
// Errors: those of SecretKey::Load and Save.
absl::StatusOr<device::SecretKey> LoadOrMakeKey(const std::filesystem::path& file);

}  // namespace broodpact::server
