#include "client/sync/snapshots.h"

#include <chrono>
#include <utility>

#include <fmt/format.h>
#include <grpcpp/grpcpp.h>

#include "broodpact/v1/snapshot_service.grpc.pb.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

constexpr std::chrono::seconds kSliceDeadline{60};

class GrpcSnapshots final : public Snapshots {
 public:
  GrpcSnapshots(const std::shared_ptr<grpc::Channel>& channel, std::string address,
                const Hash& cooperative)
      : stub_(v1::SnapshotService::NewStub(channel)),
        address_(std::move(address)),
        cooperative_(cooperative) {}

  absl::StatusOr<SnapshotOffer> Offer(std::uint64_t arrivals) override {
    v1::OfferRequest request;
    request.set_arrivals(arrivals);
    v1::OfferResponse response;
    BP_RETURN_IF_ERROR(Ask(&v1::SnapshotService::Stub::Offer, request, response));
    return ReadOffer(response, cooperative_);
  }

  absl::StatusOr<std::string> Fetch(const SnapshotManifest& manifest, std::uint32_t part) override {
    const SnapshotPart& wanted = manifest.parts.at(part);
    std::string packed;
    while (packed.size() < wanted.packed_bytes) {
      v1::FetchRequest request;
      request.set_arrivals(manifest.point.arrivals);
      request.set_part(part);
      request.set_offset(packed.size());
      v1::FetchResponse response;
      BP_RETURN_IF_ERROR(Ask(&v1::SnapshotService::Stub::Fetch, request, response));
      if (response.data().empty()) return WrongError(part);
      packed += response.data();
    }
    if (packed.size() != wanted.packed_bytes || Sha256(packed) != wanted.sha256) {
      return WrongError(part);
    }
    return UnpackPart(packed);
  }

  absl::Status Attest(std::uint64_t arrivals, const Hash& root,
                      const Signature& signature) override {
    v1::AttestRequest request;
    request.set_arrivals(arrivals);
    request.set_state_root(std::string(ViewOf(root)));
    request.set_signature(std::string(ViewOf(signature)));
    v1::AttestResponse response;
    return Ask(&v1::SnapshotService::Stub::Attest, request, response);
  }

 private:
  static absl::Status WrongError(std::uint32_t part) {
    return Fail(absl::StatusCode::kDataLoss, "PART_WRONG",
                fmt::format("part {} of the server's snapshot is not what it announced", part + 1));
  }

  template <typename Method, typename Request, typename Response>
  absl::Status Ask(Method method, const Request& request, Response& response) {
    grpc::ClientContext context;
    context.set_deadline(std::chrono::system_clock::now() + kSliceDeadline);
    return FromGrpc((*stub_.*method)(&context, request, &response), context, address_);
  }

  std::unique_ptr<v1::SnapshotService::Stub> stub_;
  std::string address_;
  Hash cooperative_;
};

}  // namespace

absl::StatusOr<std::unique_ptr<Snapshots>> OpenSnapshots(const Credentials& credentials,
                                                         const Hash& cooperative,
                                                         std::int64_t now_ms) {
  BP_ASSIGN_OR_RETURN(const std::shared_ptr<grpc::Channel> channel, Connect(credentials, now_ms));
  return std::make_unique<GrpcSnapshots>(channel, credentials.address, cooperative);
}

}  // namespace broodpact::sync
