#include "server/claim.h"

#include <filesystem>
#include <system_error>

#include "absl/status/status.h"
#include <openssl/crypto.h>

#include "client/base/status.h"
#include "client/device/private_file.h"
#include "client/sync/invite_code.h"

namespace broodpact::server {
namespace {

absl::StatusOr<std::string> LoadOrMakeSecret(const std::filesystem::path& file,
                                             device::Randomness& randomness) {
  absl::StatusOr<std::string> secret = device::ReadPrivateFile(file);
  if (absl::IsNotFound(secret.status())) {
    secret = randomness.Bytes(sync::kSecretSize);
    BP_RETURN_IF_ERROR(device::WritePrivateFile(file, *secret));
  }
  if (secret.ok() && secret->size() != sync::kSecretSize) {
    return Fail(absl::StatusCode::kDataLoss, "CLAIM_DAMAGED",
                "the file claim in the server's folder is cut short; delete it and start again for "
                "a new code");
  }
  return secret;
}

}  // namespace

absl::StatusOr<ClaimSecret> ClaimSecret::Open(const Folder& folder, const store::Store& store,
                                              device::Randomness& randomness) {
  ClaimSecret claim(folder);
  if (store.point().arrivals > 0) {
    BP_ASSIGN_OR_RETURN(const std::optional<std::string> spent, store.Meta(kClaimMeta));
    claim.secret_hash_ = HashOfBytes(spent.value_or("")).value_or(Hash{});
    claim.Forget();
    return claim;
  }
  BP_ASSIGN_OR_RETURN(claim.secret_, LoadOrMakeSecret(folder.claim(), randomness));
  claim.secret_hash_ = Sha256(*claim.secret_);
  return claim;
}

bool ClaimSecret::Matches(std::string_view secret) const {
  const Hash hash = Sha256(secret);
  return secret_hash_ != Hash{} &&
         CRYPTO_memcmp(hash.data(), secret_hash_.data(), hash.size()) == 0;
}

void ClaimSecret::Forget() const {
  std::error_code ignored;  // a file that stays is removed at the next start, and opens nothing
  std::filesystem::remove(folder_.claim(), ignored);
}

}  // namespace broodpact::server
