#include "client/sync/certificate.h"

#include <ctime>

#include "absl/status/status.h"
#include <openssl/pem.h>

#include "client/base/check.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

BioOwner BioOf(std::string_view bytes) {
  return BioOwner(BIO_new_mem_buf(bytes.data(), static_cast<int>(bytes.size())));
}

// A key file is never asked for a pass phrase: without this, OpenSSL would ask on the terminal.
int NoPassPhrase(char* /*buffer*/, int /*size*/, int /*writing*/, void* /*context*/) {
  return 0;
}

}  // namespace

CertificateOwner CertificateOfPem(std::string_view pem) {
  const BioOwner bio = BioOf(pem);
  return CertificateOwner(PEM_read_bio_X509(bio.get(), nullptr, &NoPassPhrase, nullptr));
}

KeyOwner KeyOfPem(std::string_view pem) {
  const BioOwner bio = BioOf(pem);
  return KeyOwner(PEM_read_bio_PrivateKey(bio.get(), nullptr, &NoPassPhrase, nullptr));
}

std::string PemOf(X509* certificate) {
  const BioOwner bio(BIO_new(BIO_s_mem()));
  BP_CHECK(PEM_write_bio_X509(bio.get(), certificate) == 1);
  char* text = nullptr;
  const long size = BIO_get_mem_data(bio.get(), &text);
  return {text, static_cast<std::size_t>(size)};
}

Hash FingerprintOf(X509* certificate) {
  unsigned char* der = nullptr;
  const int size = i2d_X509(certificate, &der);
  BP_CHECK(size > 0);
  const std::string bytes(reinterpret_cast<const char*>(der), static_cast<std::size_t>(size));
  OPENSSL_free(der);
  return Sha256(bytes);
}

absl::StatusOr<Validity> ValidityOf(const X509* certificate) {
  std::tm from{};
  std::tm until{};
  if (ASN1_TIME_to_tm(X509_get0_notBefore(certificate), &from) != 1 ||
      ASN1_TIME_to_tm(X509_get0_notAfter(certificate), &until) != 1) {
    return Fail(absl::StatusCode::kDataLoss, "CERTIFICATE_DAMAGED",
                "a certificate has no dates that can be read; join or renew again");
  }
  return Validity{.from_ms = std::int64_t{timegm(&from)} * 1'000,
                  .until_ms = std::int64_t{timegm(&until)} * 1'000 + 999};
}

}  // namespace broodpact::sync
