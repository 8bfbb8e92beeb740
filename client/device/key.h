#pragma once

// The device's secret: an Ed25519 key in a file of its own, outside the database and its backups.

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/signature.h"

namespace broodpact::device {

// An Ed25519 secret. Never copied, never printed. Thread-safe once made.
class SecretKey final : public Signer {
 public:
  // A new one, from the system's randomness.
  static SecretKey Generate();

  // The one that belongs to exactly 32 secret bytes (RFC 8032, section 5.1.5).
  static SecretKey OfSeed(std::string_view seed);

  // Reads a key file (PKCS #8, PEM).
  // Errors: NOT_FOUND with reason KEY_MISSING; PERMISSION_DENIED with reason KEY_EXPOSED (others
  // may read the file); DATA_LOSS with reason KEY_DAMAGED; UNAVAILABLE with reason FILE_READ.
  static absl::StatusOr<SecretKey> Load(const std::filesystem::path& file);

  // Writes a key file that only its owner may read (0600), whole or not at all. Does not replace.
  // Errors: ALREADY_EXISTS with reason KEY_EXISTS; UNAVAILABLE or RESOURCE_EXHAUSTED with reason
  // FILE_WRITE or DISK_FULL.
  absl::Status Save(const std::filesystem::path& file) const;

  // The secret as PKCS #8 PEM, for libraries that want it so. Handle with care.
  std::string Pem() const;

  const PublicKey& public_key() const override { return public_key_; }
  Signature Sign(std::string_view message) const override;

  SecretKey(SecretKey&&) noexcept;
  SecretKey& operator=(SecretKey&&) noexcept;
  ~SecretKey() override;

 private:
  struct Secret;
  explicit SecretKey(std::unique_ptr<Secret> secret);

  std::unique_ptr<Secret> secret_;
  PublicKey public_key_{};
};

}  // namespace broodpact::device
