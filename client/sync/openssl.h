#pragma once

// Owners for OpenSSL's objects, so that none is leaked on an early return.

#include <memory>

#include <openssl/bio.h>
#include <openssl/evp.h>
#include <openssl/ssl.h>
#include <openssl/x509.h>

namespace broodpact::sync {

template <auto kFree>
struct FreeWith {
  template <typename Object>
  void operator()(Object* object) const {
    kFree(object);
  }
};

using BioOwner = std::unique_ptr<BIO, FreeWith<&BIO_free_all>>;
using CertificateOwner = std::unique_ptr<X509, FreeWith<&X509_free>>;
using KeyOwner = std::unique_ptr<EVP_PKEY, FreeWith<&EVP_PKEY_free>>;
using TlsContextOwner = std::unique_ptr<SSL_CTX, FreeWith<&SSL_CTX_free>>;
using TlsOwner = std::unique_ptr<SSL, FreeWith<&SSL_free>>;

}  // namespace broodpact::sync
