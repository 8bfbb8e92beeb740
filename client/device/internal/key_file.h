#pragma once

// How a secret key lies in a file: PKCS #8 in PEM, for its owner only, never replaced.

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include <openssl/evp.h>

namespace broodpact::device {

struct FreeKey {
  void operator()(EVP_PKEY* key) const { EVP_PKEY_free(key); }
};

// OpenSSL wipes the secret when it frees the key.
using KeyHandle = std::unique_ptr<EVP_PKEY, FreeKey>;

// The algorithm of a key, as OpenSSL counts them.
enum class KeyKind : int { kEd25519 = EVP_PKEY_ED25519, kX25519 = EVP_PKEY_X25519 };

// Reads a key file.
// Errors: NOT_FOUND with reason KEY_MISSING; PERMISSION_DENIED with reason KEY_EXPOSED (others may
// read the file); DATA_LOSS with reason KEY_DAMAGED, for a key of another kind too; UNAVAILABLE
// with reason FILE_READ.
absl::StatusOr<KeyHandle> LoadKey(const std::filesystem::path& file, KeyKind kind);

// Writes a key file that only its owner may read (0600), whole or not at all. Does not replace.
// Errors: ALREADY_EXISTS with reason KEY_EXISTS; UNAVAILABLE or RESOURCE_EXHAUSTED with reason
// FILE_WRITE or DISK_FULL.
absl::Status SaveKey(const std::filesystem::path& file, const EVP_PKEY* key);

// The key as PEM. The caller wipes it.
std::string PemOf(const EVP_PKEY* key);

}  // namespace broodpact::device
