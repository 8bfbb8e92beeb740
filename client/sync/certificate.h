#pragma once

// What a certificate says: its dates, its fingerprint, whether a key is its own.

#include <cstdint>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/sync/openssl.h"

namespace broodpact::sync {

// When a certificate is good, in ms since 1970-01-01 UTC, both ends included.
struct Validity {
  std::int64_t from_ms = 0;
  std::int64_t until_ms = 0;
};

// Reads PEM; null if it is none.
CertificateOwner CertificateOfPem(std::string_view pem);
KeyOwner KeyOfPem(std::string_view pem);

std::string PemOf(X509* certificate);

// SHA-256 of the certificate as DER.
Hash FingerprintOf(X509* certificate);

// Errors: DATA_LOSS with reason CERTIFICATE_DAMAGED.
absl::StatusOr<Validity> ValidityOf(const X509* certificate);

}  // namespace broodpact::sync
