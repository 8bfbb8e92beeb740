#include "server/certificate.h"

#include <array>
#include <ctime>

#include <openssl/rand.h>
#include <openssl/x509v3.h>

namespace broodpact::server {
namespace {

constexpr int kSerialSize = 16;

bool SetSerial(X509* certificate) {
  std::array<unsigned char, kSerialSize> bytes{};
  if (RAND_bytes(bytes.data(), kSerialSize) != 1) return false;
  bytes[0] &= 0x7FU;  // a positive number, whatever its first bit
  bytes[0] |= 0x40U;  // of full length
  BIGNUM* const number = BN_bin2bn(bytes.data(), kSerialSize, nullptr);
  const bool set = number != nullptr &&
                   BN_to_ASN1_INTEGER(number, X509_get_serialNumber(certificate)) != nullptr;
  BN_free(number);
  return set;
}

bool SetDates(X509* certificate, const sync::Validity& validity) {
  const auto from = static_cast<std::time_t>(validity.from_ms / 1'000);
  const auto until = static_cast<std::time_t>(validity.until_ms / 1'000);
  return ASN1_TIME_set(X509_getm_notBefore(certificate), from) != nullptr &&
         ASN1_TIME_set(X509_getm_notAfter(certificate), until) != nullptr;
}

bool SetSubject(X509* certificate, const std::string& common_name) {
  return X509_NAME_add_entry_by_txt(X509_get_subject_name(certificate), "CN", MBSTRING_ASC,
                                    reinterpret_cast<const unsigned char*>(common_name.c_str()), -1,
                                    -1, 0) == 1;
}

bool AddExtension(X509* certificate, X509* issuer, int kind, const std::string& value) {
  X509V3_CTX context{};
  X509V3_set_ctx_nodb(&context);
  X509V3_set_ctx(&context, issuer, certificate, nullptr, nullptr, 0);
  X509_EXTENSION* const extension = X509V3_EXT_conf_nid(nullptr, &context, kind, value.c_str());
  if (extension == nullptr) return false;
  const bool added = X509_add_ext(certificate, extension, -1) == 1;
  X509_EXTENSION_free(extension);
  return added;
}

bool AddPurpose(X509* certificate, X509* issuer, Purpose purpose) {
  switch (purpose) {
    case Purpose::kAuthority:
      return AddExtension(certificate, issuer, NID_basic_constraints,
                          "critical,CA:TRUE,pathlen:0") &&
             AddExtension(certificate, issuer, NID_key_usage, "critical,keyCertSign,cRLSign");
    case Purpose::kServer:
      return AddExtension(certificate, issuer, NID_basic_constraints, "critical,CA:FALSE") &&
             AddExtension(certificate, issuer, NID_key_usage, "critical,digitalSignature") &&
             AddExtension(certificate, issuer, NID_ext_key_usage, "serverAuth");
    case Purpose::kClient:
      return AddExtension(certificate, issuer, NID_basic_constraints, "critical,CA:FALSE") &&
             AddExtension(certificate, issuer, NID_key_usage, "critical,digitalSignature") &&
             AddExtension(certificate, issuer, NID_ext_key_usage, "clientAuth");
  }
  return false;
}

}  // namespace

sync::CertificateOwner MakeCertificate(const CertificateText& text, EVP_PKEY* key,
                                       const Issuer& issuer) {
  sync::CertificateOwner made(X509_new());
  X509* const certificate = made.get();
  if (certificate == nullptr) return nullptr;
  X509* const signer = issuer.certificate == nullptr ? certificate : issuer.certificate;
  const bool filled =
      X509_set_version(certificate, X509_VERSION_3) == 1 && SetSerial(certificate) &&
      SetDates(certificate, text.validity) && SetSubject(certificate, text.common_name) &&
      X509_set_issuer_name(certificate, X509_get_subject_name(signer)) == 1 &&
      X509_set_pubkey(certificate, key) == 1 && AddPurpose(certificate, signer, text.purpose) &&
      AddExtension(certificate, signer, NID_subject_key_identifier, "hash") &&
      AddExtension(certificate, signer, NID_authority_key_identifier, "keyid") &&
      (text.alternative_names.empty() ||
       AddExtension(certificate, signer, NID_subject_alt_name, text.alternative_names));
  // Ed25519 hashes by itself: no digest is named.
  if (!filled || X509_sign(certificate, issuer.key, nullptr) == 0) return nullptr;
  return made;
}

sync::KeyOwner KeyOfBytes(const PublicKey& key) {
  return sync::KeyOwner(
      EVP_PKEY_new_raw_public_key(EVP_PKEY_ED25519, nullptr, key.data(), key.size()));
}

}  // namespace broodpact::server
