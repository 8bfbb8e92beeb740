#pragma once

// Makes X.509 certificates for Ed25519 keys (RFC 5280, RFC 8410).

#include <string>

#include <openssl/evp.h>
#include <openssl/x509.h>

#include "client/base/signature.h"
#include "client/sync/certificate.h"
#include "client/sync/openssl.h"

namespace broodpact::server {

enum class Purpose { kAuthority, kServer, kClient };

struct CertificateText {
  Purpose purpose = Purpose::kClient;
  std::string common_name;        // at most 64 characters of ASCII
  std::string alternative_names;  // as OpenSSL writes them: "DNS:a,IP:::1,URI:b"; empty: none
  sync::Validity validity;
};

// Who signs. The certificate is null for one that signs itself.
struct Issuer {
  X509* certificate = nullptr;
  EVP_PKEY* key = nullptr;
};

// A certificate for `key`, signed by `issuer`. Null if the text cannot be written down.
sync::CertificateOwner MakeCertificate(const CertificateText& text, EVP_PKEY* key,
                                       const Issuer& issuer);

// A public key as OpenSSL has it; null if the bytes are not one.
sync::KeyOwner KeyOfBytes(const PublicKey& key);

}  // namespace broodpact::server
