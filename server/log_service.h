#pragma once

// LogService: proves the arrival log to members.

#include "broodpact/v1/log_service.grpc.pb.h"
#include "client/store/store.h"
#include "server/callers.h"
#include "server/herald.h"

namespace broodpact::server {

// Thread-safe.
class LogService final : public v1::LogService::Service {
 public:
  // All outlive the service.
  LogService(const store::Store& store, const Herald& herald, const Callers& callers)
      : store_(store), herald_(herald), callers_(callers) {}

  grpc::Status GetHead(grpc::ServerContext* context, const v1::GetHeadRequest* request,
                       v1::GetHeadResponse* response) override;
  grpc::Status ProveConsistency(grpc::ServerContext* context,
                                const v1::ProveConsistencyRequest* request,
                                v1::ProveConsistencyResponse* response) override;
  grpc::Status ProveInclusion(grpc::ServerContext* context,
                              const v1::ProveInclusionRequest* request,
                              v1::ProveInclusionResponse* response) override;

 private:
  // Whether a size is one of the log that this server has told.
  absl::Status CheckSize(std::uint64_t arrivals) const;

  const store::Store& store_;
  const Herald& herald_;
  const Callers& callers_;
};

}  // namespace broodpact::server
