#include "client/device/sealing_key.h"

#include <algorithm>
#include <cstddef>

#include "client/base/check.h"
#include "client/base/hash.h"
#include "client/base/status.h"
#include "client/device/internal/key_file.h"
#include "client/device/internal/x25519.h"

namespace broodpact::device {

SealingKeyId IdOf(const SealingPublicKey& key) {
  return FirstHalf<SealingKeyId>(Sha256(ViewOf(key.bytes)));
}

std::optional<SealingPublicKey> SealingPublicKeyOfBytes(std::string_view bytes) {
  SealingPublicKey key;
  if (bytes.size() != key.bytes.size()) return std::nullopt;
  std::copy(bytes.begin(), bytes.end(), key.bytes.begin());
  return key;
}

SealingKey SealingKey::Generate(Randomness& randomness) {
  return SealingKey(SecretBytes::Fresh(randomness));
}

SealingKey::SealingKey(const SecretBytes& secret)
    : secret_(secret), public_key_{X25519Public(secret)}, id_(IdOf(public_key_)) {}

absl::StatusOr<SealingKey> SealingKey::Load(const std::filesystem::path& file) {
  BP_ASSIGN_OR_RETURN(const KeyHandle key, LoadKey(file, KeyKind::kX25519));
  SecretBytes secret;
  std::size_t size = secret.bytes().size();
  BP_CHECK(EVP_PKEY_get_raw_private_key(key.get(), secret.bytes().data(), &size) == 1);
  BP_CHECK(size == secret.bytes().size());
  return SealingKey(secret);
}

absl::Status SealingKey::Save(const std::filesystem::path& file) const {
  const KeyHandle key(EVP_PKEY_new_raw_private_key(EVP_PKEY_X25519, nullptr, secret_.bytes().data(),
                                                   secret_.bytes().size()));
  BP_CHECK(key != nullptr);
  return SaveKey(file, key.get());
}

std::optional<SecretBytes> SealingKey::Exchange(const SealingPublicKey& peer) const {
  return X25519(secret_, peer.bytes);
}

}  // namespace broodpact::device
