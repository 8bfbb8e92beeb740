#include "server/recovery_service.h"

#include "server/answer.h"

namespace broodpact::server {

template <typename Request, typename Response>
grpc::Status RecoveryService::Answer(grpc::ServerContext& context,
                                     absl::Status (Recovery::*method)(const Request&, Response&)
                                         const,
                                     const Request& request, Response& response) const {
  const absl::StatusOr<Caller> caller = callers_.OfForgotten(*context.auth_context());
  if (!caller.ok()) return ToGrpc(caller.status(), context);
  return ToGrpc((recovery_.*method)(request, response), context);
}

grpc::Status RecoveryService::Compare(grpc::ServerContext* context,
                                      const v1::CompareRequest* request,
                                      v1::CompareResponse* response) {
  return Answer(*context, &Recovery::Compare, *request, *response);
}

grpc::Status RecoveryService::ReportLoss(grpc::ServerContext* context,
                                         const v1::ReportLossRequest* request,
                                         v1::ReportLossResponse* response) {
  const absl::StatusOr<Caller> caller = callers_.OfForgotten(*context->auth_context());
  if (!caller.ok()) return ToGrpc(caller.status(), *context);
  return ToGrpc(recovery_.ReportLoss(caller->device, *request, *response), *context);
}

grpc::Status RecoveryService::GiveBack(grpc::ServerContext* context,
                                       const v1::GiveBackRequest* request,
                                       v1::GiveBackResponse* response) {
  return Answer(*context, &Recovery::GiveBack, *request, *response);
}

grpc::Status RecoveryService::DeliverAgain(grpc::ServerContext* context,
                                           const v1::DeliverAgainRequest* request,
                                           v1::DeliverAgainResponse* response) {
  const absl::StatusOr<Caller> caller = callers_.OfForgotten(*context->auth_context());
  if (!caller.ok()) return ToGrpc(caller.status(), *context);
  return ToGrpc(recovery_.DeliverAgain(caller->device, *request, *response), *context);
}

}  // namespace broodpact::server
