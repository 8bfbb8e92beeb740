#include "client/sync/network.h"

#include "client/sync/joining.h"
#include "client/sync/log_proofs.h"

namespace broodpact::sync {
namespace {

class MachineNetwork final : public Network {
 public:
  absl::StatusOr<std::string> FetchAuthority(const std::string& address,
                                             const Hash& fingerprint) override {
    return sync::FetchAuthority(address, fingerprint);
  }
  absl::StatusOr<std::string> Claim(const Credentials& credentials, const std::string& claim_secret,
                                    const facts::SignedCommit& founding,
                                    const PublicKey& tls_key) override {
    return sync::Claim(credentials, claim_secret, founding, tls_key);
  }
  absl::StatusOr<TakenOver> TakeOver(const Credentials& credentials, const Takeover& takeover,
                                     const PublicKey& tls_key, const Signer& device) override {
    return sync::TakeOver(credentials, takeover, tls_key, device);
  }
  absl::StatusOr<std::string> Join(const Credentials& credentials, const Hash& cooperative,
                                   const facts::SignedCommit& joining, const PublicKey& tls_key,
                                   const Signer& device) override {
    return sync::Join(credentials, cooperative, joining, tls_key, device);
  }
  absl::StatusOr<std::string> JoinAgain(const Credentials& credentials, const Reentry& reentry,
                                        const PublicKey& tls_key, const Signer& device) override {
    return sync::JoinAgain(credentials, reentry, tls_key, device);
  }
  absl::StatusOr<std::string> Renew(const Credentials& credentials, const Signer& device,
                                    const PublicKey& tls_key,
                                    const std::vector<facts::SignedCommit>& rotations) override {
    return sync::Renew(credentials, device, tls_key, rotations);
  }
  absl::StatusOr<Progress> RunSession(const Credentials& credentials, Target& target,
                                      const Options& options) override {
    return sync::RunSession(credentials, target, options);
  }
  absl::StatusOr<Head> FetchHead(const Credentials& credentials, const Hash& cooperative,
                                 std::int64_t now_ms) override {
    return sync::FetchHead(credentials, cooperative, now_ms);
  }
  absl::StatusOr<std::unique_ptr<Recovery>> OpenRecovery(const Credentials& credentials,
                                                         const Hash& cooperative,
                                                         std::int64_t now_ms) override {
    return sync::OpenRecovery(credentials, cooperative, now_ms);
  }
  absl::StatusOr<std::unique_ptr<Snapshots>> OpenSnapshots(const Credentials& credentials,
                                                           const Hash& cooperative,
                                                           std::int64_t now_ms) override {
    return sync::OpenSnapshots(credentials, cooperative, now_ms);
  }
};

}  // namespace

Network& GrpcNetwork() {
  static MachineNetwork network;
  return network;
}

}  // namespace broodpact::sync
