#pragma once

// The secret that gives a fresh server away: made at the first start, kept in a file until a
// founder comes with it. After that its hash stays, so that a claim whose answer was lost can be
// made again.

#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/device/random.h"
#include "client/store/store.h"
#include "server/folder.h"

namespace broodpact::server {

// Name of the value in the store that keeps the hash of a spent secret.
inline constexpr const char* kClaimMeta = "claim";

// Thread-safe once made.
class ClaimSecret {
 public:
  // Errors: those of files and of the store; DATA_LOSS with reason CLAIM_DAMAGED.
  static absl::StatusOr<ClaimSecret> Open(const Folder& folder, const store::Store& store,
                                          device::Randomness& randomness);

  // The secret, 16 bytes; nothing once the server was claimed.
  const std::optional<std::string>& secret() const { return secret_; }

  // Whether `secret` is the one. Takes as long for a wrong one as for the right one.
  bool Matches(std::string_view secret) const;

  // SHA-256 of the secret, as it is stored under kClaimMeta.
  const Hash& secret_hash() const { return secret_hash_; }

  // Removes the file: the claim stands in the store.
  void Forget() const;

 private:
  explicit ClaimSecret(const Folder& folder) : folder_(folder) {}

  Folder folder_;
  std::optional<std::string> secret_;
  Hash secret_hash_{};
};

}  // namespace broodpact::server
