#pragma once

// What a server proves of its log, over gRPC: asked for and checked.

#include <cstdint>
#include <memory>
#include <optional>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/sync/connection.h"
#include "client/sync/head.h"

namespace broodpact::sync {

// The head of the server's log as it is now, its signature checked. Blocks.
// Errors: those of Connect; HEAD_SIGNATURE_BAD; SERVER_AWAY and the server's own.
absl::StatusOr<Head> FetchHead(const Credentials& credentials, const Hash& cooperative,
                               std::int64_t now_ms);

// Lets the server prove that the log of `second` begins with that of `first`, both its own. A
// server that is away, or does not answer, has proved nothing and is not convicted of anything:
// whoever holds the log has checked it arrival by arrival. Heads of two epochs or keys are not
// compared.
// Errors: DATA_LOSS with reason PROOF_WRONG.
absl::Status CheckGrowth(const std::shared_ptr<grpc::Channel>& channel, const Head& first,
                         const Head& second);

// Lets the server prove that the commit is arrival number `arrival`, at these times, of the log of
// `head`. Blocks.
// Errors: those of Connect; SERVER_AWAY and the server's own; DATA_LOSS with reason PROOF_WRONG.
struct InclusionClaim {
  std::uint64_t arrival = 0;
  Hash commit{};
  std::int64_t time_ms = 0;
  std::optional<std::int64_t> first_time_ms{};
};
absl::Status CheckInclusion(const Credentials& credentials, const InclusionClaim& claim,
                            const Head& head, std::int64_t now_ms);

}  // namespace broodpact::sync
