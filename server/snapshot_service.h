#pragma once

// SnapshotService: what members' new devices start from, and the word of those that are members
// already.

#include "broodpact/v1/snapshot_service.grpc.pb.h"
#include "server/arrival_log.h"
#include "server/callers.h"
#include "server/snapshots.h"

namespace broodpact::server {

// Thread-safe.
class SnapshotService final : public v1::SnapshotService::Service {
 public:
  // All outlive the service.
  SnapshotService(Snapshots& snapshots, const ArrivalLog& arrival_log, const Callers& callers)
      : snapshots_(snapshots), arrival_log_(arrival_log), callers_(callers) {}

  grpc::Status Offer(grpc::ServerContext* context, const v1::OfferRequest* request,
                     v1::OfferResponse* response) override;
  grpc::Status Fetch(grpc::ServerContext* context, const v1::FetchRequest* request,
                     v1::FetchResponse* response) override;
  grpc::Status Attest(grpc::ServerContext* context, const v1::AttestRequest* request,
                      v1::AttestResponse* response) override;

 private:
  // The newest that enough keepers attest, or else the newest.
  absl::StatusOr<Snapshots::Kept> Best() const;
  bool IsAttestedByEnough(const Snapshots::Kept& kept) const;

  Snapshots& snapshots_;
  const ArrivalLog& arrival_log_;
  const Callers& callers_;
};

}  // namespace broodpact::server
