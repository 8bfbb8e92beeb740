#pragma once

// Entering: claiming a server, joining by invitation, renewing a certificate. Each blocks for one
// or two calls, and returns the client certificate as PEM.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/signature.h"
#include "client/facts/commit.h"
#include "client/sync/connection.h"
#include "client/sync/head.h"

namespace broodpact::sync {

// Gives a fresh server to the cooperative of this founding commit.
// Errors: as JoiningService.Claim; SERVER_AWAY.
absl::StatusOr<std::string> Claim(const Credentials& credentials, const std::string& claim_secret,
                                  const facts::SignedCommit& founding, const PublicKey& tls_key);

// Gives a fresh server to a cooperative whose server is gone. Returns, beside the certificate, the
// head of the new server's log.
// Errors: as JoiningService.Claim; SERVER_AWAY; HEAD_SIGNATURE_BAD.
struct Takeover {
  std::string claim_secret{};
  Hash cooperative{};
  facts::SignedCommit founding{};
  Head predecessor{};  // the newest of the server that is gone
  // Keys of the servers before that one, at most kLeftServersMax (key_list.h).
  std::vector<PublicKey> left{};
};
struct TakenOver {
  std::string certificate_pem{};
  Head head{};
};
absl::StatusOr<TakenOver> TakeOver(const Credentials& credentials, const Takeover& takeover,
                                   const PublicKey& tls_key, const Signer& device);

// Joins with a first commit that carries a Joining, signed by `device`.
// Errors: as JoiningService.Join; SERVER_AWAY.
absl::StatusOr<std::string> Join(const Credentials& credentials, const Hash& cooperative,
                                 const facts::SignedCommit& joining, const PublicKey& tls_key,
                                 const Signer& device);

// Joins by the first commit of a device that came in before: at the server before this one, or
// before this one lost it. Brings the invitation along.
// Errors: as Join.
struct SignedRun {
  std::vector<std::string> commits{};  // of one chain, dense; as many as one push holds at most
  Signature signature{};               // of the last one
};
struct Reentry {
  Hash cooperative{};
  facts::SignedCommit joining{};
  SignedRun inviting{};  // has the invitation of `joining`; empty: it is not at hand
};
absl::StatusOr<std::string> JoinAgain(const Credentials& credentials, const Reentry& reentry,
                                      const PublicKey& tls_key, const Signer& device);

// Rotations that a renewal brings along at most.
inline constexpr std::size_t kRotationsMax = 32;

// Renews the client certificate. Brings `rotations` along, the earliest first, at most
// kRotationsMax: a server that does not know the device may know the one whose place it took.
// Errors: as JoiningService.Renew; SERVER_AWAY.
absl::StatusOr<std::string> Renew(const Credentials& credentials, const Signer& device,
                                  const PublicKey& tls_key,
                                  const std::vector<facts::SignedCommit>& rotations);

// The bytes that a device signs to join with a key for its certificate.
std::string JoiningKeyMessage(const Hash& cooperative, const PublicKey& tls_key);

// The bytes that a device signs to take over a server.
std::string TakeoverMessage(const Hash& cooperative, const PublicKey& tls_key);

// The bytes that a device signs to renew.
std::string RenewalMessage(std::string_view nonce, const PublicKey& tls_key);

}  // namespace broodpact::sync
