#include "client/base/signature.h"

#include <algorithm>
#include <memory>

#include <openssl/evp.h>

#include "client/base/check.h"

namespace broodpact {
namespace {

struct FreeOpenSsl {
  void operator()(EVP_PKEY* key) const { EVP_PKEY_free(key); }
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
};

const std::uint8_t* BytesOf(std::string_view text) {
  return reinterpret_cast<const std::uint8_t*>(text.data());
}

template <typename Array>
std::optional<Array> ArrayOf(std::string_view bytes) {
  Array array{};
  if (bytes.size() != array.size()) return std::nullopt;
  std::copy(bytes.begin(), bytes.end(), array.begin());
  return array;
}

}  // namespace

bool VerifySignature(const PublicKey& key, std::string_view message, const Signature& signature) {
  const std::unique_ptr<EVP_PKEY, FreeOpenSsl> public_key(
      EVP_PKEY_new_raw_public_key(EVP_PKEY_ED25519, nullptr, key.data(), key.size()));
  if (public_key == nullptr) return false;
  // A fresh context each time: one that has served another kind of key must not be used again, and
  // making it is nothing beside a verification.
  const std::unique_ptr<EVP_MD_CTX, FreeOpenSsl> context(EVP_MD_CTX_new());
  BP_CHECK(context != nullptr);
  if (EVP_DigestVerifyInit(context.get(), nullptr, nullptr, nullptr, public_key.get()) != 1) {
    return false;
  }
  return EVP_DigestVerify(context.get(), signature.data(), signature.size(), BytesOf(message),
                          message.size()) == 1;
}

std::optional<PublicKey> PublicKeyOfBytes(std::string_view bytes) {
  return ArrayOf<PublicKey>(bytes);
}

std::optional<Signature> SignatureOfBytes(std::string_view bytes) {
  return ArrayOf<Signature>(bytes);
}

DeviceId DeviceOf(const PublicKey& key) {
  return FirstHalf<DeviceId>(Sha256(ViewOf(key)));
}

InviteId InviteOf(const PublicKey& key) {
  return FirstHalf<InviteId>(Sha256(ViewOf(key)));
}

}  // namespace broodpact
