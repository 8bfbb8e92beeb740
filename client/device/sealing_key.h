#pragma once

// The device's sealing key: the X25519 key (RFC 7748) to which others seal what this device may
// read (seal.h), in a file of its own.
//
// It is not made out of the Ed25519 key that the device signs with, though the curves would allow
// it. A key has one use: what was shown to be safe of signing and of exchanging was shown for a
// secret that does nothing else. Who gets hold of a sealing key can read, and not sign; and a
// sealing key can be replaced while the device keeps its name, which is the hash of the other.

#include <array>
#include <compare>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/id.h"
#include "client/device/random.h"
#include "client/device/secret_bytes.h"

namespace broodpact::device {

// What others seal to. A type of its own: it must not be taken for the key that checks signatures.
struct SealingPublicKey {
  std::array<std::uint8_t, 32> bytes{};

  friend auto operator<=>(const SealingPublicKey&, const SealingPublicKey&) = default;
};

// The first 16 bytes of SHA-256 of a sealing public key.
using SealingKeyId = Id<struct SealingKeyKind>;

SealingKeyId IdOf(const SealingPublicKey& key);

// Takes 32 bytes as they are. Nothing if `bytes` has another length.
std::optional<SealingPublicKey> SealingPublicKeyOfBytes(std::string_view bytes);

// An X25519 secret. Never copied, never printed; wiped at the end. Thread-safe once made.
class SealingKey {
 public:
  // A new one.
  static SealingKey Generate(Randomness& randomness);

  // The one of exactly these 32 bytes.
  explicit SealingKey(const SecretBytes& secret);

  // Reads a key file (PKCS #8, PEM).
  // Errors: NOT_FOUND with reason KEY_MISSING; PERMISSION_DENIED with reason KEY_EXPOSED (others
  // may read the file); DATA_LOSS with reason KEY_DAMAGED; UNAVAILABLE with reason FILE_READ.
  static absl::StatusOr<SealingKey> Load(const std::filesystem::path& file);

  // Writes a key file that only its owner may read (0600), whole or not at all. Does not replace.
  // Errors: ALREADY_EXISTS with reason KEY_EXISTS; UNAVAILABLE or RESOURCE_EXHAUSTED with reason
  // FILE_WRITE or DISK_FULL.
  absl::Status Save(const std::filesystem::path& file) const;

  const SealingPublicKey& public_key() const { return public_key_; }
  const SealingKeyId& id() const { return id_; }

  // What this key and the one behind `peer` have in common. Nothing where `peer` is no proper key.
  std::optional<SecretBytes> Exchange(const SealingPublicKey& peer) const;

  SealingKey(const SealingKey&) = delete;
  SealingKey& operator=(const SealingKey&) = delete;
  SealingKey(SealingKey&&) noexcept = default;
  SealingKey& operator=(SealingKey&&) noexcept = default;
  ~SealingKey() = default;

 private:
  SecretBytes secret_;
  SealingPublicKey public_key_{};
  SealingKeyId id_{};
};

}  // namespace broodpact::device
