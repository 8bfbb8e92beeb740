#include "client/device/key.h"

#include <utility>

#include "absl/cleanup/cleanup.h"
#include <fmt/format.h>
#include <openssl/bio.h>
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/pem.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/private_file.h"

namespace broodpact::device {
namespace {

struct FreeOpenSsl {
  void operator()(EVP_PKEY* key) const { EVP_PKEY_free(key); }
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
  void operator()(BIO* bio) const { BIO_free_all(bio); }
};

using KeyHandle = std::unique_ptr<EVP_PKEY, FreeOpenSsl>;
using BioHandle = std::unique_ptr<BIO, FreeOpenSsl>;

// Says that there is no password: OpenSSL would ask for one on the terminal.
int NoPassword(char* /*buffer*/, int /*size*/, int /*writing*/, void* /*context*/) {
  return -1;
}

KeyHandle KeyOfPem(std::string_view pem) {
  const BioHandle bio(BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())));
  BP_CHECK(bio != nullptr);
  KeyHandle key(PEM_read_bio_PrivateKey(bio.get(), nullptr, &NoPassword, nullptr));
  if (key != nullptr && EVP_PKEY_get_id(key.get()) != EVP_PKEY_ED25519) key.reset();
  return key;
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

struct SecretKey::Secret {
  KeyHandle key;
};

SecretKey::SecretKey(std::unique_ptr<Secret> secret) : secret_(std::move(secret)) {
  BP_CHECK(secret_ != nullptr && secret_->key != nullptr);
  std::size_t size = public_key_.size();
  BP_CHECK(EVP_PKEY_get_raw_public_key(secret_->key.get(), public_key_.data(), &size) == 1);
  BP_CHECK(size == public_key_.size());
}

SecretKey::SecretKey(SecretKey&&) noexcept = default;
SecretKey& SecretKey::operator=(SecretKey&&) noexcept = default;
SecretKey::~SecretKey() = default;

SecretKey SecretKey::Generate() {
  auto secret = std::make_unique<Secret>();
  secret->key.reset(EVP_PKEY_Q_keygen(nullptr, nullptr, "ED25519"));
  return SecretKey(std::move(secret));
}

SecretKey SecretKey::OfSeed(std::string_view seed) {
  BP_CHECK(seed.size() == 32);
  auto secret = std::make_unique<Secret>();
  secret->key.reset(EVP_PKEY_new_raw_private_key(
      EVP_PKEY_ED25519, nullptr, reinterpret_cast<const unsigned char*>(seed.data()), seed.size()));
  return SecretKey(std::move(secret));
}

absl::StatusOr<SecretKey> SecretKey::Load(const std::filesystem::path& file) {
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
  if (pem.ok() || ReasonOf(pem.status()) == "FILE_TOO_LARGE") {
    auto secret = std::make_unique<Secret>();
    if (pem.ok()) {
      secret->key = KeyOfPem(*pem);
      OPENSSL_cleanse(pem->data(), pem->size());
    }
    if (secret->key == nullptr) {
      return Fail(
          absl::StatusCode::kDataLoss, "KEY_DAMAGED",
          fmt::format("{} is not an Ed25519 key in PEM; restore it from a copy", file.string()));
    }
    return SecretKey(std::move(secret));
  }
  return pem.status();
}

absl::Status SecretKey::Save(const std::filesystem::path& file) const {
  std::string pem = Pem();
  const absl::Cleanup cleanse = [&pem] { OPENSSL_cleanse(pem.data(), pem.size()); };
  absl::Status status = WriteNewPrivateFile(file, pem);
  if (ReasonOf(status) != "FILE_EXISTS") return status;
  return Fail(
      absl::StatusCode::kAlreadyExists, "KEY_EXISTS",
      fmt::format("there is a device key {} already, and it is not replaced", file.string()));
}

std::string SecretKey::Pem() const {
  const BioHandle bio(BIO_new(BIO_s_secmem()));
  BP_CHECK(bio != nullptr);
  BP_CHECK(PEM_write_bio_PKCS8PrivateKey(bio.get(), secret_->key.get(), nullptr, nullptr, 0,
                                         nullptr, nullptr) == 1);
  const char* data = nullptr;
  const long size = BIO_get_mem_data(bio.get(), &data);
  BP_CHECK(size > 0);
  return {data, static_cast<std::size_t>(size)};
}

Signature SecretKey::Sign(std::string_view message) const {
  // A fresh context each time: one that has served another kind of key must not be used again, and
  // making it is nothing beside signing.
  const std::unique_ptr<EVP_MD_CTX, FreeOpenSsl> context(EVP_MD_CTX_new());
  BP_CHECK(context != nullptr);
  BP_CHECK(EVP_DigestSignInit(context.get(), nullptr, nullptr, nullptr, secret_->key.get()) == 1);
  Signature signature;
  std::size_t size = signature.size();
  BP_CHECK(EVP_DigestSign(context.get(), signature.data(), &size,
                          reinterpret_cast<const unsigned char*>(message.data()),
                          message.size()) == 1);
  BP_CHECK(size == signature.size());
  return signature;
}

}  // namespace broodpact::device
