#pragma once

// Ed25519 (RFC 8032): keys, signatures and their verification. Signing needs a secret, and lives
// with the secret, in the room `device`.

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "client/base/hash.h"
#include "client/base/id.h"

namespace broodpact {

using PublicKey = std::array<std::uint8_t, 32>;
using Signature = std::array<std::uint8_t, 64>;

// Whether `signature` is `key`'s over `message`. False too for keys and signatures that are not
// well-formed, S >= L among them, so that a message never has two signatures by malleability.
bool VerifySignature(const PublicKey& key, std::string_view message, const Signature& signature);

std::optional<PublicKey> PublicKeyOfBytes(std::string_view bytes);
std::optional<Signature> SignatureOfBytes(std::string_view bytes);

inline std::string_view ViewOf(const Signature& signature) {
  return {reinterpret_cast<const char*>(signature.data()), signature.size()};
}

// The device that `key` belongs to.
DeviceId DeviceOf(const PublicKey& key);

// The invitation that `key` belongs to.
InviteId InviteOf(const PublicKey& key);

// Signs with a secret that it does not show. Implemented in the room `device`.
class Signer {
 public:
  virtual ~Signer() = default;
  virtual const PublicKey& public_key() const = 0;
  virtual Signature Sign(std::string_view message) const = 0;
};

}  // namespace broodpact
