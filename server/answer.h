#pragma once

// Where our Status meets gRPC's: every method of every service goes through here.

#include <utility>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include <grpcpp/grpcpp.h>

#include "server/callers.h"

namespace broodpact::server {

// The wire form of a status: same code, message as is, and the reason as trailing metadata
// "broodpact-reason". Nothing else leaves the process. Its mirror is sync::FromGrpc.
grpc::Status ToGrpc(const absl::Status& status, grpc::ServerContextBase& context);

// What every call is answered with while the server stops.
absl::Status StoppingError();

// Runs `handle(caller)` for a caller who is a member, and translates what comes back.
template <typename Handler>
grpc::Status AnswerMember(grpc::ServerContext& context, const Callers& callers, Handler&& handle) {
  const absl::StatusOr<Caller> caller = callers.Of(*context.auth_context());
  if (!caller.ok()) return ToGrpc(caller.status(), context);
  return ToGrpc(std::forward<Handler>(handle)(*caller), context);
}

}  // namespace broodpact::server
