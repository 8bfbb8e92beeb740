#include "client/device/internal/x25519.h"

#include <cstddef>
#include <memory>

#include <openssl/evp.h>

#include "client/base/check.h"

namespace broodpact::device {
namespace {

struct FreeOpenSsl {
  void operator()(EVP_PKEY* key) const { EVP_PKEY_free(key); }
  void operator()(EVP_PKEY_CTX* context) const { EVP_PKEY_CTX_free(context); }
};

using KeyHandle = std::unique_ptr<EVP_PKEY, FreeOpenSsl>;

// OpenSSL wipes the key when it frees it.
KeyHandle KeyOf(const SecretBytes& scalar) {
  KeyHandle key(EVP_PKEY_new_raw_private_key(EVP_PKEY_X25519, nullptr, scalar.bytes().data(),
                                             scalar.bytes().size()));
  BP_CHECK(key != nullptr);
  return key;
}

}  // namespace

X25519Point X25519Public(const SecretBytes& scalar) {
  const KeyHandle key = KeyOf(scalar);
  X25519Point point{};
  std::size_t size = point.size();
  BP_CHECK(EVP_PKEY_get_raw_public_key(key.get(), point.data(), &size) == 1);
  BP_CHECK(size == point.size());
  return point;
}

std::optional<SecretBytes> X25519(const SecretBytes& scalar, const X25519Point& u) {
  const KeyHandle own = KeyOf(scalar);
  const KeyHandle peer(EVP_PKEY_new_raw_public_key(EVP_PKEY_X25519, nullptr, u.data(), u.size()));
  BP_CHECK(peer != nullptr);
  const std::unique_ptr<EVP_PKEY_CTX, FreeOpenSsl> context(EVP_PKEY_CTX_new(own.get(), nullptr));
  BP_CHECK(context != nullptr);
  BP_CHECK(EVP_PKEY_derive_init(context.get()) == 1);
  if (EVP_PKEY_derive_set_peer(context.get(), peer.get()) != 1) return std::nullopt;
  SecretBytes shared;
  std::size_t size = shared.bytes().size();
  if (EVP_PKEY_derive(context.get(), shared.bytes().data(), &size) != 1) return std::nullopt;
  BP_CHECK(size == shared.bytes().size());
  // OpenSSL refuses all zeros itself; that is not left to its version.
  if (shared == SecretBytes()) return std::nullopt;
  return shared;
}

}  // namespace broodpact::device
