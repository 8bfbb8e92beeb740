#pragma once

// RegistryService: answers members from the server's own fold. Each answer is of one moment: it
// reads a snapshot that later arrivals do not move.

#include "broodpact/v1/registry_service.grpc.pb.h"
#include "client/device/clock.h"
#include "client/store/store.h"
#include "server/callers.h"

namespace broodpact::server {

// Thread-safe.
class RegistryService final : public v1::RegistryService::Service {
 public:
  // All outlive the service.
  RegistryService(const store::Store& store, const Callers& callers, const device::Clock& clock)
      : store_(store), callers_(callers), clock_(clock) {}

  grpc::Status GetCooperative(grpc::ServerContext* context,
                              const v1::GetCooperativeRequest* request,
                              v1::GetCooperativeResponse* response) override;
  grpc::Status ListKeepers(grpc::ServerContext* context, const v1::ListKeepersRequest* request,
                           v1::ListKeepersResponse* response) override;
  grpc::Status ListGroups(grpc::ServerContext* context, const v1::ListGroupsRequest* request,
                          v1::ListGroupsResponse* response) override;
  grpc::Status ListAnimals(grpc::ServerContext* context, const v1::ListAnimalsRequest* request,
                           v1::ListAnimalsResponse* response) override;
  grpc::Status GetAnimal(grpc::ServerContext* context, const v1::GetAnimalRequest* request,
                         v1::GetAnimalResponse* response) override;
  grpc::Status ListLoans(grpc::ServerContext* context, const v1::ListLoansRequest* request,
                         v1::ListLoansResponse* response) override;
  grpc::Status GetLoan(grpc::ServerContext* context, const v1::GetLoanRequest* request,
                       v1::GetLoanResponse* response) override;
  grpc::Status ListClutches(grpc::ServerContext* context, const v1::ListClutchesRequest* request,
                            v1::ListClutchesResponse* response) override;
  grpc::Status GetClutch(grpc::ServerContext* context, const v1::GetClutchRequest* request,
                         v1::GetClutchResponse* response) override;
  grpc::Status GetSplit(grpc::ServerContext* context, const v1::GetSplitRequest* request,
                        v1::GetSplitResponse* response) override;
  grpc::Status FindMales(grpc::ServerContext* context, const v1::FindMalesRequest* request,
                         v1::FindMalesResponse* response) override;
  grpc::Status ListClashes(grpc::ServerContext* context, const v1::ListClashesRequest* request,
                           v1::ListClashesResponse* response) override;

 private:
  // Runs `handle(view)` with the caller's view of the registry.
  template <typename Handle>
  grpc::Status Ask(grpc::ServerContext& context, Handle&& handle);

  const store::Store& store_;
  const Callers& callers_;
  const device::Clock& clock_;
};

}  // namespace broodpact::server
