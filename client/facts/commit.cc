#include "client/facts/commit.h"

namespace broodpact::facts {

std::string SignedMessage(const Hash& commit_hash) {
  using namespace std::string_literals;
  return "broodpact commit v1\0"s.append(ViewOf(commit_hash));
}

Signature SignCommit(const Signer& signer, const Hash& commit_hash) {
  return signer.Sign(SignedMessage(commit_hash));
}

bool VerifyCommit(const PublicKey& device_key, const Hash& commit_hash,
                  const Signature& signature) {
  return VerifySignature(device_key, SignedMessage(commit_hash), signature);
}

}  // namespace broodpact::facts
