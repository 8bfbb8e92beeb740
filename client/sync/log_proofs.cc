#include "client/sync/log_proofs.h"

#include <optional>
#include <vector>

#include "absl/status/status.h"
#include <fmt/format.h>
#include <grpcpp/grpcpp.h>

#include "broodpact/v1/log_service.grpc.pb.h"
#include "client/base/merkle_proof.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

// The hashes of a proof; nothing if one is none, or there are more than any proof has.
template <typename Response>
std::optional<std::vector<Hash>> ProofIn(const Response& response) {
  if (static_cast<std::size_t>(response.hashes_size()) > kMerkleProofHashesMax) return std::nullopt;
  std::vector<Hash> proof;
  for (const std::string& bytes : response.hashes()) {
    const std::optional<Hash> hash = HashOfBytes(bytes);
    if (!hash) return std::nullopt;
    proof.push_back(*hash);
  }
  return proof;
}

absl::Status WrongError(std::string_view what) {
  return Fail(absl::StatusCode::kDataLoss, "PROOF_WRONG",
              fmt::format("the server does not prove {}; sync with it no more before its keeper "
                          "has explained why, and ask the other keepers for their heads "
                          "(`broodpact heads`)",
                          what));
}

MerkleHead TreeOf(const Head& head) {
  return {.size = head.point.arrivals, .root = head.tree_root};
}

}  // namespace

absl::StatusOr<Head> FetchHead(const Credentials& credentials, const Hash& cooperative,
                               std::int64_t now_ms) {
  BP_ASSIGN_OR_RETURN(const std::shared_ptr<grpc::Channel> channel, Connect(credentials, now_ms));
  grpc::ClientContext context;
  SetDeadline(context, kAnswerSeconds);
  v1::GetHeadResponse response;
  const grpc::Status status =
      v1::LogService::NewStub(channel)->GetHead(&context, v1::GetHeadRequest(), &response);
  BP_RETURN_IF_ERROR(FromGrpc(status, context, credentials.address));
  return ReadHead(response.head(), cooperative);
}

absl::Status CheckGrowth(const std::shared_ptr<grpc::Channel>& channel, const Head& first,
                         const Head& second) {
  const bool same_log = first.epoch == second.epoch && first.server_key == second.server_key;
  if (!same_log || first.point.arrivals >= second.point.arrivals) return absl::OkStatus();
  grpc::ClientContext context;
  SetDeadline(context, kAnswerSeconds);
  v1::ProveConsistencyRequest request;
  request.set_first_arrivals(first.point.arrivals);
  request.set_second_arrivals(second.point.arrivals);
  v1::ProveConsistencyResponse response;
  const grpc::Status status =
      v1::LogService::NewStub(channel)->ProveConsistency(&context, request, &response);
  if (!status.ok()) return absl::OkStatus();
  const auto proof = ProofIn(response);
  if (proof && VerifyConsistency(TreeOf(first), TreeOf(second), *proof).ok()) {
    return absl::OkStatus();
  }
  return WrongError(fmt::format("that its log of {} arrivals has grown out of the one of {}",
                                second.point.arrivals, first.point.arrivals));
}

absl::Status CheckInclusion(const Credentials& credentials, const InclusionClaim& claim,
                            const Head& head, std::int64_t now_ms) {
  BP_ASSIGN_OR_RETURN(const std::shared_ptr<grpc::Channel> channel, Connect(credentials, now_ms));
  grpc::ClientContext context;
  SetDeadline(context, kAnswerSeconds);
  v1::ProveInclusionRequest request;
  request.set_arrival(claim.arrival);
  request.set_arrivals(head.point.arrivals);
  v1::ProveInclusionResponse response;
  const grpc::Status status =
      v1::LogService::NewStub(channel)->ProveInclusion(&context, request, &response);
  BP_RETURN_IF_ERROR(FromGrpc(status, context, credentials.address));
  const auto proof = ProofIn(response);
  const Hash leaf = facts::LogLeafHash(claim.commit, facts::TimesOf(claim));
  if (proof && claim.arrival > 0 &&
      VerifyInclusion(leaf, claim.arrival - 1, *proof, TreeOf(head)).ok()) {
    return absl::OkStatus();
  }
  return WrongError(fmt::format("that arrival {} is in its log", claim.arrival));
}

}  // namespace broodpact::sync
