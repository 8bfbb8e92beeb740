#include "client/device/key.h"

#include <utility>

#include <openssl/evp.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/device/internal/key_file.h"

namespace broodpact::device {
namespace {

struct FreeContext {
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
};

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
  auto secret = std::make_unique<Secret>();
  BP_ASSIGN_OR_RETURN(secret->key, LoadKey(file, KeyKind::kEd25519));
  return SecretKey(std::move(secret));
}

absl::Status SecretKey::Save(const std::filesystem::path& file) const {
  return SaveKey(file, secret_->key.get());
}

std::string SecretKey::Pem() const {
  return PemOf(secret_->key.get());
}

Signature SecretKey::Sign(std::string_view message) const {
  // A fresh context each time: one that has served another kind of key must not be used again, and
  // making it is nothing beside signing.
  const std::unique_ptr<EVP_MD_CTX, FreeContext> context(EVP_MD_CTX_new());
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
