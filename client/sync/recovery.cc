#include "client/sync/recovery.h"

#include <algorithm>
#include <utility>

#include <grpcpp/grpcpp.h>

#include "broodpact/v1/recovery_service.grpc.pb.h"
#include "client/base/status.h"
#include "client/sync/chunk.h"

namespace broodpact::sync {
namespace {

void WritePlace(const facts::LogPoint& point, v1::LogPlace& place) {
  place.set_arrivals(point.arrivals);
  place.set_log_hash(std::string(ViewOf(point.log_hash)));
}

void WritePart(const LogPart& part, v1::LogChunk& chunk) {
  chunk.set_arrivals_before(part.arrivals_before);
  chunk.set_records_zstd(PackRecords(part.records));
}

void WriteTimes(const FirstTimes& times, v1::DeliverAgainRequest& request) {
  sync::Write(times.head, *request.mutable_head());
  request.set_tree_before(times.tree_before);
  for (const Hash& hash : times.proof) request.add_proof(std::string(ViewOf(hash)));
}

class RecoveryCalls final : public Recovery {
 public:
  RecoveryCalls(std::unique_ptr<RecoveryWay> way, const Hash& cooperative)
      : way_(std::move(way)), cooperative_(cooperative) {}

  absl::StatusOr<Comparison> Compare(const std::vector<facts::LogPoint>& places,
                                     const Remembered& remembered) override {
    v1::CompareRequest request;
    request.set_cooperative_id(std::string(ViewOf(cooperative_)));
    for (const facts::LogPoint& place : places) WritePlace(place, *request.add_places());
    sync::Write(remembered.epochs, *request.mutable_epochs());
    request.mutable_server_codes()->Assign(remembered.server_codes.begin(),
                                           remembered.server_codes.end());
    v1::CompareResponse response;
    BP_RETURN_IF_ERROR(way_->Compare(request, response));
    Comparison comparison{.matching = std::min<std::size_t>(response.matching(), places.size()),
                          .head = {},
                          .epochs = {},
                          .matching_head = {}};
    BP_ASSIGN_OR_RETURN(comparison.head, ReadHead(response.head(), cooperative_));
    BP_ASSIGN_OR_RETURN(comparison.epochs, ReadEpochs(response.epochs(), cooperative_));
    if (response.has_matching_head()) {
      BP_ASSIGN_OR_RETURN(comparison.matching_head,
                          ReadHead(response.matching_head(), cooperative_));
    }
    return comparison;
  }

  absl::StatusOr<Epochs> ReportLoss(const Head& head, const facts::LogPoint& common) override {
    v1::ReportLossRequest request;
    sync::Write(head, *request.mutable_head());
    WritePlace(common, *request.mutable_common());
    v1::ReportLossResponse response;
    BP_RETURN_IF_ERROR(way_->ReportLoss(request, response));
    return ReadEpochs(response.epochs(), cooperative_);
  }

  absl::Status GiveBack(const LogPart& part, const Head& head,
                        const std::vector<Hash>& proof) override {
    v1::GiveBackRequest request;
    WritePart(part, *request.mutable_chunk());
    sync::Write(head, *request.mutable_head());
    for (const Hash& hash : proof) request.add_proof(std::string(ViewOf(hash)));
    v1::GiveBackResponse response;
    return way_->GiveBack(request, response);
  }

  absl::StatusOr<Redelivery> DeliverAgain(const LogPart& part,
                                          const std::optional<FirstTimes>& times) override {
    v1::DeliverAgainRequest request;
    WritePart(part, *request.mutable_chunk());
    if (times) WriteTimes(*times, request);
    v1::DeliverAgainResponse response;
    BP_RETURN_IF_ERROR(way_->DeliverAgain(request, response));
    return Redelivery{.arrived = response.arrived(),
                      .known = response.known(),
                      .refused = response.refused(),
                      .refused_at = {response.refused_at().begin(), response.refused_at().end()}};
  }

 private:
  std::unique_ptr<RecoveryWay> way_;
  Hash cooperative_;
};

class GrpcWay final : public RecoveryWay {
 public:
  GrpcWay(const std::shared_ptr<grpc::Channel>& channel, std::string address)
      : stub_(v1::RecoveryService::NewStub(channel)), address_(std::move(address)) {}

  absl::Status Compare(const v1::CompareRequest& request, v1::CompareResponse& response) override {
    return Call(&v1::RecoveryService::Stub::Compare, request, response);
  }
  absl::Status ReportLoss(const v1::ReportLossRequest& request,
                          v1::ReportLossResponse& response) override {
    return Call(&v1::RecoveryService::Stub::ReportLoss, request, response);
  }
  absl::Status GiveBack(const v1::GiveBackRequest& request,
                        v1::GiveBackResponse& response) override {
    return Call(&v1::RecoveryService::Stub::GiveBack, request, response);
  }
  absl::Status DeliverAgain(const v1::DeliverAgainRequest& request,
                            v1::DeliverAgainResponse& response) override {
    return Call(&v1::RecoveryService::Stub::DeliverAgain, request, response);
  }

 private:
  template <typename Method, typename Request, typename Response>
  absl::Status Call(Method method, const Request& request, Response& response) {
    grpc::ClientContext context;
    SetDeadline(context, kDurableAnswerSeconds);
    return FromGrpc((*stub_.*method)(&context, request, &response), context, address_);
  }

  std::unique_ptr<v1::RecoveryService::Stub> stub_;
  std::string address_;
};

}  // namespace

absl::StatusOr<Redelivery> DeliverWithTimes(Recovery& server, const LogPart& part,
                                            const std::optional<FirstTimes>& times) {
  absl::StatusOr<Redelivery> made = server.DeliverAgain(part, times);
  const std::string reason = ReasonOf(made.status());
  const bool disbelieved =
      reason == "HEAD_OTHER" || reason == "HEAD_SIGNATURE_BAD" || reason == "PROOF_WRONG";
  if (times && disbelieved) made = server.DeliverAgain(part, std::nullopt);
  return made;
}

std::unique_ptr<Recovery> RecoveryBy(std::unique_ptr<RecoveryWay> way, const Hash& cooperative) {
  return std::make_unique<RecoveryCalls>(std::move(way), cooperative);
}

absl::StatusOr<std::unique_ptr<Recovery>> OpenRecovery(const Credentials& credentials,
                                                       const Hash& cooperative,
                                                       std::int64_t now_ms) {
  BP_ASSIGN_OR_RETURN(const std::shared_ptr<grpc::Channel> channel, Connect(credentials, now_ms));
  return RecoveryBy(std::make_unique<GrpcWay>(channel, credentials.address), cooperative);
}

}  // namespace broodpact::sync
