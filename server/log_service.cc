#include "server/log_service.h"

#include <string>
#include <vector>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/sync/head.h"
#include "server/answer.h"

namespace broodpact::server {
namespace {

template <typename Response>
void Write(const std::vector<Hash>& proof, Response& response) {
  for (const Hash& hash : proof) response.add_hashes(std::string(ViewOf(hash)));
}

}  // namespace

absl::Status LogService::CheckSize(std::uint64_t arrivals) const {
  const std::uint64_t told = herald_.head().point.arrivals;
  if (arrivals <= told) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kInvalidArgument, "TREE_SIZE",
      fmt::format("the log has {} arrivals, not {}; ask for its head first", told, arrivals));
}

grpc::Status LogService::GetHead(grpc::ServerContext* context, const v1::GetHeadRequest*,
                                 v1::GetHeadResponse* response) {
  return AnswerMember(*context, callers_, [&](const Caller&) {
    sync::Write(herald_.head(), *response->mutable_head());
    return absl::OkStatus();
  });
}

grpc::Status LogService::ProveConsistency(grpc::ServerContext* context,
                                          const v1::ProveConsistencyRequest* request,
                                          v1::ProveConsistencyResponse* response) {
  return AnswerMember(*context, callers_, [&](const Caller&) -> absl::Status {
    BP_RETURN_IF_ERROR(CheckSize(request->second_arrivals()));
    BP_ASSIGN_OR_RETURN(const std::vector<Hash> proof,
                        ConsistencyProof(*store_.TreeNodes(), request->first_arrivals(),
                                         request->second_arrivals()));
    Write(proof, *response);
    return absl::OkStatus();
  });
}

grpc::Status LogService::ProveInclusion(grpc::ServerContext* context,
                                        const v1::ProveInclusionRequest* request,
                                        v1::ProveInclusionResponse* response) {
  return AnswerMember(*context, callers_, [&](const Caller&) -> absl::Status {
    BP_RETURN_IF_ERROR(CheckSize(request->arrivals()));
    if (request->arrival() == 0) {
      return Fail(absl::StatusCode::kInvalidArgument, "LEAF_INDEX", "arrivals count from 1");
    }
    BP_ASSIGN_OR_RETURN(
        const std::vector<Hash> proof,
        InclusionProof(*store_.TreeNodes(), request->arrival() - 1, request->arrivals()));
    BP_ASSIGN_OR_RETURN(const store::StoredArrival arrival, store_.ReadArrival(request->arrival()));
    response->set_commit_hash(std::string(ViewOf(Sha256(arrival.bytes))));
    response->set_arrival_time_ms(arrival.time_ms);
    if (arrival.first_time_ms) response->set_first_arrival_time_ms(*arrival.first_time_ms);
    Write(proof, *response);
    return absl::OkStatus();
  });
}

}  // namespace broodpact::server
