#include "client/device/internal/key_file.h"

#include <cstddef>
#include <system_error>

#include "absl/cleanup/cleanup.h"
#include <fmt/format.h>
#include <openssl/bio.h>
#include <openssl/crypto.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/private_file.h"

namespace broodpact::device {
namespace {

struct FreeBio {
  void operator()(BIO* bio) const { BIO_free_all(bio); }
};

using BioHandle = std::unique_ptr<BIO, FreeBio>;

// OpenSSL wipes the secret when it frees this.
struct FreeInfo {
  void operator()(PKCS8_PRIV_KEY_INFO* info) const { PKCS8_PRIV_KEY_INFO_free(info); }
};

using InfoHandle = std::unique_ptr<PKCS8_PRIV_KEY_INFO, FreeInfo>;

// Says that there is no password: OpenSSL would ask for one on the terminal.
int NoPassword(char* /*buffer*/, int /*size*/, int /*writing*/, void* /*context*/) {
  return -1;
}

// Taken apart here: OpenSSL's reader of any key of any kind looks for a decoder for a millisecond
// and a half, which every command would pay.
KeyHandle KeyOfPem(std::string_view pem, KeyKind kind) {
  const BioHandle bio(BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())));
  BP_CHECK(bio != nullptr);
  unsigned char* der = nullptr;
  long der_size = 0;
  if (PEM_bytes_read_bio_secmem(&der, &der_size, nullptr, PEM_STRING_PKCS8INF, bio.get(),
                                &NoPassword, nullptr) != 1) {
    return nullptr;
  }
  const unsigned char* next = der;
  const InfoHandle info(d2i_PKCS8_PRIV_KEY_INFO(nullptr, &next, der_size));
  OPENSSL_secure_clear_free(der, static_cast<std::size_t>(der_size));
  const ASN1_OBJECT* algorithm = nullptr;
  const unsigned char* bytes = nullptr;
  int size = 0;
  if (info == nullptr || PKCS8_pkey_get0(&algorithm, &bytes, &size, nullptr, info.get()) != 1 ||
      OBJ_obj2nid(algorithm) != static_cast<int>(kind)) {
    return nullptr;
  }
  // RFC 8410, section 7: the key is an OCTET STRING of 32 bytes within that of PKCS #8.
  constexpr int kSeedSize = 32;
  if (size != kSeedSize + 2 || bytes[0] != V_ASN1_OCTET_STRING || bytes[1] != kSeedSize) {
    return nullptr;
  }
  return KeyHandle(
      EVP_PKEY_new_raw_private_key(static_cast<int>(kind), nullptr, bytes + 2, kSeedSize));
}

std::string_view NameOf(KeyKind kind) {
  switch (kind) {
    case KeyKind::kEd25519:
      return "Ed25519";
    case KeyKind::kX25519:
      return "X25519";
  }
  return "";
}

// Whether anybody but the owner may do anything with the file.
bool IsExposed(const std::filesystem::path& file) {
  using std::filesystem::perms;
  std::error_code error;
  const std::filesystem::file_status status = std::filesystem::status(file, error);
  if (error) return false;
  return (status.permissions() & (perms::group_all | perms::others_all)) != perms::none;
}

}  // namespace

absl::StatusOr<KeyHandle> LoadKey(const std::filesystem::path& file, KeyKind kind) {
  if (IsExposed(file)) {
    return Fail(absl::StatusCode::kPermissionDenied, "KEY_EXPOSED",
                fmt::format("others may read the device key {}; run chmod 600 on it, and ask a "
                            "registrar for a new invite if someone else may have copied it",
                            file.string()));
  }
  auto pem = ReadPrivateFile(file);
  if (ReasonOf(pem.status()) == "FILE_MISSING") {
    return Fail(
        absl::StatusCode::kNotFound, "KEY_MISSING",
        fmt::format("there is no device key {}; restore it, or start a new device", file.string()));
  }
  if (!pem.ok() && ReasonOf(pem.status()) != "FILE_TOO_LARGE") return pem.status();
  KeyHandle key;
  if (pem.ok()) {
    key = KeyOfPem(*pem, kind);
    OPENSSL_cleanse(pem->data(), pem->size());
  }
  if (key == nullptr) {
    return Fail(absl::StatusCode::kDataLoss, "KEY_DAMAGED",
                fmt::format("{} is not an {} key in PEM; restore it from a copy", file.string(),
                            NameOf(kind)));
  }
  return key;
}

absl::Status SaveKey(const std::filesystem::path& file, const EVP_PKEY* key) {
  std::string pem = PemOf(key);
  const absl::Cleanup wipe = [&pem] { OPENSSL_cleanse(pem.data(), pem.size()); };
  absl::Status status = WriteNewPrivateFile(file, pem);
  if (ReasonOf(status) != "FILE_EXISTS") return status;
  return Fail(
      absl::StatusCode::kAlreadyExists, "KEY_EXISTS",
      fmt::format("there is a device key {} already, and it is not replaced", file.string()));
}

std::string PemOf(const EVP_PKEY* key) {
  const BioHandle bio(BIO_new(BIO_s_secmem()));
  BP_CHECK(bio != nullptr);
  BP_CHECK(PEM_write_bio_PKCS8PrivateKey(bio.get(), key, nullptr, nullptr, 0, nullptr, nullptr) ==
           1);
  const char* data = nullptr;
  const long size = BIO_get_mem_data(bio.get(), &data);
  BP_CHECK(size > 0);
  return {data, static_cast<std::size_t>(size)};
}

}  // namespace broodpact::device
