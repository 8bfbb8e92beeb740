#pragma once

// The ways to a server, as a parameter: what runs over gRPC runs over a simulated network too.

#include <cstdint>
#include <memory>
#include <string>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/signature.h"
#include "client/facts/commit.h"
#include "client/sync/connection.h"
#include "client/sync/head.h"
#include "client/sync/joining.h"
#include "client/sync/recovery.h"
#include "client/sync/session.h"
#include "client/sync/snapshots.h"

namespace broodpact::sync {

// Every call blocks, and promises what the function of the same name does: FetchAuthority of
// connection.h, Claim, Join, JoinAgain and Renew of joining.h, RunSession of session.h, FetchHead
// of log_proofs.h, OpenRecovery of recovery.h, OpenSnapshots of snapshots.h.
class Network {
 public:
  virtual ~Network() = default;

  virtual absl::StatusOr<std::string> FetchAuthority(const std::string& address,
                                                     const Hash& fingerprint) = 0;
  virtual absl::StatusOr<std::string> Claim(const Credentials& credentials,
                                            const std::string& claim_secret,
                                            const facts::SignedCommit& founding,
                                            const PublicKey& tls_key) = 0;
  virtual absl::StatusOr<TakenOver> TakeOver(const Credentials& credentials,
                                             const Takeover& takeover, const PublicKey& tls_key,
                                             const Signer& device) = 0;
  virtual absl::StatusOr<std::string> Join(const Credentials& credentials, const Hash& cooperative,
                                           const facts::SignedCommit& joining,
                                           const PublicKey& tls_key, const Signer& device) = 0;
  virtual absl::StatusOr<std::string> JoinAgain(const Credentials& credentials,
                                                const Reentry& reentry, const PublicKey& tls_key,
                                                const Signer& device) = 0;
  virtual absl::StatusOr<std::string> Renew(const Credentials& credentials, const Signer& device,
                                            const PublicKey& tls_key,
                                            const std::vector<facts::SignedCommit>& rotations) = 0;
  virtual absl::StatusOr<Progress> RunSession(const Credentials& credentials, Target& target,
                                              const Options& options) = 0;
  virtual absl::StatusOr<Head> FetchHead(const Credentials& credentials, const Hash& cooperative,
                                         std::int64_t now_ms) = 0;
  virtual absl::StatusOr<std::unique_ptr<Recovery>> OpenRecovery(const Credentials& credentials,
                                                                 const Hash& cooperative,
                                                                 std::int64_t now_ms) = 0;
  virtual absl::StatusOr<std::unique_ptr<Snapshots>> OpenSnapshots(const Credentials& credentials,
                                                                   const Hash& cooperative,
                                                                   std::int64_t now_ms) = 0;
};

// The network of this machine, by gRPC. Thread-safe.
Network& GrpcNetwork();

}  // namespace broodpact::sync
