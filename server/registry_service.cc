#include "server/registry_service.h"

#include <algorithm>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/day.h"
#include "client/base/status.h"
#include "client/replica/view.h"
#include "server/answer.h"

namespace broodpact::server {
namespace {

constexpr std::size_t kPageSize = 500;
constexpr std::size_t kPageSizeMax = 1'000;
// Longer than any short name with its keeper before it, and than any id.
constexpr std::size_t kNameBytesAsked = 160;

absl::Status QueryError(std::string_view what) {
  return Fail(absl::StatusCode::kInvalidArgument, "QUERY_FORM", std::string(what));
}

absl::Status CheckAsked(const std::string& name) {
  if (!name.empty() && name.size() <= kNameBytesAsked) return absl::OkStatus();
  return QueryError(
      fmt::format("name one subject, by name or id, in at most {} bytes", kNameBytesAsked));
}

absl::StatusOr<replica::AnimalFilter> FilterOf(const replica::View& view,
                                               const v1::ListAnimalsRequest& request) {
  replica::AnimalFilter filter;
  if (!request.group().empty()) {
    BP_RETURN_IF_ERROR(CheckAsked(request.group()));
    BP_ASSIGN_OR_RETURN(filter.group, view.GroupNamed(request.group()));
  }
  if (!request.keeper().empty()) {
    BP_RETURN_IF_ERROR(CheckAsked(request.keeper()));
    BP_ASSIGN_OR_RETURN(filter.keeper, view.KeeperNamed(request.keeper()));
  }
  filter.count_max = request.page_size() == 0
                         ? kPageSize
                         : std::min<std::size_t>(request.page_size(), kPageSizeMax);
  if (!request.page().empty()) {
    const std::optional<IdBytes> after = ParseIdText(request.page());
    if (!after.has_value()) return QueryError("the page is none that was handed out");
    filter.after = AnimalId{*after};
  }
  return filter;
}

absl::StatusOr<replica::MaleQuery> QueryOf(const replica::View& view,
                                           const v1::FindMalesRequest& request, Day today) {
  replica::MaleQuery query;
  query.day = today;
  if (!request.day().empty()) {
    BP_ASSIGN_OR_RETURN(query.day, ParseDay(request.day()));
  }
  if (!request.group().empty()) {
    BP_RETURN_IF_ERROR(CheckAsked(request.group()));
    BP_ASSIGN_OR_RETURN(query.group, view.GroupNamed(request.group()));
  }
  if (!request.female().empty()) {
    BP_RETURN_IF_ERROR(CheckAsked(request.female()));
    BP_ASSIGN_OR_RETURN(query.female, view.AnimalNamed(request.female()));
  }
  return query;
}

}  // namespace

template <typename Handle>
grpc::Status RegistryService::Ask(grpc::ServerContext& context, Handle&& handle) {
  return AnswerMember(context, callers_, [&](const Caller& caller) -> absl::Status {
    const std::unique_ptr<registry::Source> snapshot = store_.Snapshot();
    return std::forward<Handle>(handle)(replica::View(*snapshot, caller.keeper, nullptr));
  });
}

grpc::Status RegistryService::GetCooperative(grpc::ServerContext* context,
                                             const v1::GetCooperativeRequest* /*request*/,
                                             v1::GetCooperativeResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(*response->mutable_cooperative(), view.Cooperative());
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::ListKeepers(grpc::ServerContext* context,
                                          const v1::ListKeepersRequest* /*request*/,
                                          v1::ListKeepersResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(*response->mutable_list(), view.Keepers());
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::ListGroups(grpc::ServerContext* context,
                                         const v1::ListGroupsRequest* /*request*/,
                                         v1::ListGroupsResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(*response->mutable_list(), view.Groups());
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::ListAnimals(grpc::ServerContext* context,
                                          const v1::ListAnimalsRequest* request,
                                          v1::ListAnimalsResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(const replica::AnimalFilter filter, FilterOf(view, *request));
    BP_ASSIGN_OR_RETURN(*response->mutable_list(), view.Animals(filter));
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::GetAnimal(grpc::ServerContext* context,
                                        const v1::GetAnimalRequest* request,
                                        v1::GetAnimalResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_RETURN_IF_ERROR(CheckAsked(request->animal()));
    BP_ASSIGN_OR_RETURN(const AnimalId id, view.AnimalNamed(request->animal()));
    BP_ASSIGN_OR_RETURN(*response->mutable_animal(), view.Animal(id));
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::ListLoans(grpc::ServerContext* context,
                                        const v1::ListLoansRequest* /*request*/,
                                        v1::ListLoansResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(*response->mutable_list(), view.Loans());
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::GetLoan(grpc::ServerContext* context,
                                      const v1::GetLoanRequest* request,
                                      v1::GetLoanResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_RETURN_IF_ERROR(CheckAsked(request->loan()));
    BP_ASSIGN_OR_RETURN(const LoanId id, view.LoanNamed(request->loan()));
    BP_ASSIGN_OR_RETURN(*response->mutable_loan(), view.Loan(id));
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::ListClutches(grpc::ServerContext* context,
                                           const v1::ListClutchesRequest* /*request*/,
                                           v1::ListClutchesResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(*response->mutable_list(), view.Clutches());
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::GetClutch(grpc::ServerContext* context,
                                        const v1::GetClutchRequest* request,
                                        v1::GetClutchResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_RETURN_IF_ERROR(CheckAsked(request->clutch()));
    BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(request->clutch()));
    BP_ASSIGN_OR_RETURN(*response->mutable_clutch(), view.Clutch(id));
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::GetSplit(grpc::ServerContext* context,
                                       const v1::GetSplitRequest* request,
                                       v1::GetSplitResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_RETURN_IF_ERROR(CheckAsked(request->clutch()));
    BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(request->clutch()));
    BP_ASSIGN_OR_RETURN(*response->mutable_split(), view.Split(id));
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::FindMales(grpc::ServerContext* context,
                                        const v1::FindMalesRequest* request,
                                        v1::FindMalesResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(const replica::MaleQuery query, QueryOf(view, *request, clock_.Today()));
    BP_ASSIGN_OR_RETURN(*response->mutable_list(), view.FindMales(query));
    return absl::OkStatus();
  });
}

grpc::Status RegistryService::ListClashes(grpc::ServerContext* context,
                                          const v1::ListClashesRequest* /*request*/,
                                          v1::ListClashesResponse* response) {
  return Ask(*context, [&](const replica::View& view) -> absl::Status {
    BP_ASSIGN_OR_RETURN(*response->mutable_list(), view.Clashes());
    return absl::OkStatus();
  });
}

}  // namespace broodpact::server
