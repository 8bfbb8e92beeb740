#pragma once

// The network as one keeper has it: every call goes to the simulated server, and waits for the
// scheduler.

#include <memory>
#include <string>

#include "client/sync/network.h"
#include "tests/simulation/server_node.h"

namespace broodpact::simulation {

class KeeperNode;

class KeeperNetwork final : public sync::Network {
 public:
  // Both outlive this.
  KeeperNetwork(KeeperNode& keeper, ServerNode& server) : keeper_(keeper), server_(server) {}

  absl::StatusOr<std::string> FetchAuthority(const std::string& address,
                                             const Hash& fingerprint) override;
  absl::StatusOr<std::string> Claim(const sync::Credentials& credentials,
                                    const std::string& claim_secret,
                                    const facts::SignedCommit& founding,
                                    const PublicKey& tls_key) override;
  absl::StatusOr<sync::TakenOver> TakeOver(const sync::Credentials& credentials,
                                           const sync::Takeover& takeover, const PublicKey& tls_key,
                                           const Signer& device) override;
  absl::StatusOr<std::string> Join(const sync::Credentials& credentials, const Hash& cooperative,
                                   const facts::SignedCommit& joining, const PublicKey& tls_key,
                                   const Signer& device) override;
  absl::StatusOr<std::string> JoinAgain(const sync::Credentials& credentials,
                                        const sync::Reentry& reentry, const PublicKey& tls_key,
                                        const Signer& device) override;
  absl::StatusOr<std::string> Renew(const sync::Credentials& credentials, const Signer& device,
                                    const PublicKey& tls_key,
                                    const std::vector<facts::SignedCommit>& rotations) override;
  absl::StatusOr<sync::Progress> RunSession(const sync::Credentials& credentials,
                                            sync::Target& target,
                                            const sync::Options& options) override;
  absl::StatusOr<sync::Head> FetchHead(const sync::Credentials& credentials,
                                       const Hash& cooperative, std::int64_t now_ms) override;
  absl::StatusOr<std::unique_ptr<sync::Recovery>> OpenRecovery(const sync::Credentials& credentials,
                                                               const Hash& cooperative,
                                                               std::int64_t now_ms) override;
  // Offers none.
  absl::StatusOr<std::unique_ptr<sync::Snapshots>> OpenSnapshots(
      const sync::Credentials& credentials, const Hash& cooperative, std::int64_t now_ms) override;

  // Waits until the scheduler lets a single call through, or turns it away.
  absl::Status AwaitCall(const std::string& address);

 private:
  // Whether the server at that address answers: one that was replaced does not.
  absl::Status CheckReachable(const std::string& address) const;
  absl::StatusOr<std::string> AwaitEntry(const std::shared_ptr<ServerNode::Entry>& entry,
                                         const std::string& address);
  absl::Status CheckGrowth(const std::string& address, const sync::Head& before,
                           const sync::Head& after) const;

  KeeperNode& keeper_;
  ServerNode& server_;
};

}  // namespace broodpact::simulation
