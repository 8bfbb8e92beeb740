#pragma once

// A way to a server: TLS 1.3, the server known by its authority, the client by its certificate.

#include <chrono>
#include <cstdint>
#include <memory>
#include <string>

#include "absl/status/statusor.h"

#include "client/base/hash.h"

namespace grpc {
class Channel;
class Status;
class ClientContext;
}  // namespace grpc

namespace broodpact::sync {

// What a device keeps to reach its server.
struct Credentials {
  std::string address{};          // "host:port"
  std::string authority_pem{};    // certificate of the server's authority
  std::string certificate_pem{};  // the client's; empty: none yet
  std::string key_pem{};          // of the client's certificate; empty: none yet
};

// Fetches the authority's certificate from a server and checks it against its fingerprint.
// Blocks, at most `kConnectSeconds`. Returns PEM.
// Errors: UNAVAILABLE with reason SERVER_AWAY; PERMISSION_DENIED with reason SERVER_OTHER (somebody
// else answers at that address).
absl::StatusOr<std::string> FetchAuthority(const std::string& address, const Hash& fingerprint);

inline constexpr int kConnectSeconds = 10;

// A channel to the server. Does not block: failures show at the first call.
// Errors: FAILED_PRECONDITION with reason CERTIFICATE_EXPIRED (the client's own, by `now_ms`) or
// CERTIFICATE_OTHER (the client's own, not of this authority): a renewal mends both; CLOCK_WRONG
// (`now_ms` is outside the authority's dates); DATA_LOSS with reason CERTIFICATE_DAMAGED.
absl::StatusOr<std::shared_ptr<grpc::Channel>> Connect(const Credentials& credentials,
                                                       std::int64_t now_ms);

// How long a call may take until the server has answered: one that it answers from what it has, and
// one for which it folds a part of the log and makes it durable.
inline constexpr std::chrono::seconds kAnswerSeconds{10};
inline constexpr std::chrono::seconds kDurableAnswerSeconds{60};
void SetDeadline(grpc::ClientContext& context, std::chrono::seconds deadline);

// A server's answer as the Status that it was: code, message, and the reason from the trailing
// metadata "broodpact-reason". A server that cannot be reached is UNAVAILABLE with reason
// SERVER_AWAY.
absl::Status FromGrpc(const grpc::Status& status, const grpc::ClientContext& context,
                      const std::string& address);

}  // namespace broodpact::sync
