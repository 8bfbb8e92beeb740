#include "server/answer.h"

#include <string>

#include "client/base/status.h"

namespace broodpact::server {

absl::Status StoppingError() {
  return Fail(absl::StatusCode::kUnavailable, "STOPPING",
              "the server is stopping; nothing is lost, sync again in a minute");
}

grpc::Status ToGrpc(const absl::Status& status, grpc::ServerContextBase& context) {
  if (status.ok()) return grpc::Status::OK;
  const std::string reason = ReasonOf(status);
  context.AddTrailingMetadata("broodpact-reason", reason.empty() ? "INTERNAL" : reason);
  return {static_cast<grpc::StatusCode>(status.code()), std::string(status.message())};
}

}  // namespace broodpact::server
