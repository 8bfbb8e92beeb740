#pragma once

// RecoveryService: what the server has lost, from those who have it.

#include "broodpact/v1/recovery_service.grpc.pb.h"
#include "server/callers.h"
#include "server/recovery.h"

namespace broodpact::server {

// Thread-safe.
class RecoveryService final : public v1::RecoveryService::Service {
 public:
  // `callers` outlives the service.
  RecoveryService(const Recovery& recovery, const Callers& callers)
      : recovery_(recovery), callers_(callers) {}

  grpc::Status Compare(grpc::ServerContext* context, const v1::CompareRequest* request,
                       v1::CompareResponse* response) override;
  grpc::Status ReportLoss(grpc::ServerContext* context, const v1::ReportLossRequest* request,
                          v1::ReportLossResponse* response) override;
  grpc::Status GiveBack(grpc::ServerContext* context, const v1::GiveBackRequest* request,
                        v1::GiveBackResponse* response) override;
  grpc::Status DeliverAgain(grpc::ServerContext* context, const v1::DeliverAgainRequest* request,
                            v1::DeliverAgainResponse* response) override;

 private:
  template <typename Request, typename Response>
  grpc::Status Answer(grpc::ServerContext& context,
                      absl::Status (Recovery::*method)(const Request&, Response&) const,
                      const Request& request, Response& response) const;

  Recovery recovery_;
  const Callers& callers_;
};

}  // namespace broodpact::server
