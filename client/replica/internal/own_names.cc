#include "client/replica/internal/own_names.h"

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/replica/internal/bulk.h"

namespace broodpact::replica {
namespace {

// Subjects of one name that are looked at: far more than one cooperative gives one name to.
constexpr std::size_t kNamesMax = 200;

bool IsUsed(const registry::Loan& loan) {
  return loan.state <= registry::LoanState::kInForce;
}
bool IsUsed(const registry::Clutch& clutch) {
  return !clutch.loss.has_value();
}

template <typename Subject>
absl::Status CheckNameFree(const Replica& replica, const std::string& name, std::string_view what) {
  if (name.empty()) return absl::OkStatus();
  const registry::Source& source = replica.view();
  BP_ASSIGN_OR_RETURN(const auto ids,
                      IdsBehind<decltype(Subject::id)>(
                          source, registry::NamePrefix(Subject::kKind, name), kNamesMax));
  BP_ASSIGN_OR_RETURN(const std::vector<Subject> namesakes, ReadMany<Subject>(source, ids));
  for (const Subject& one : namesakes) {
    if (one.entry.keeper != replica.identity().keeper || !IsUsed(one)) continue;
    return Fail(absl::StatusCode::kFailedPrecondition, "NAME_TAKEN",
                fmt::format("you have named a {} {} already ({}); give this one another name", what,
                            one.name, ToShortText(one.id)));
  }
  return absl::OkStatus();
}

}  // namespace

absl::Status CheckLoanNameFree(const Replica& replica, const std::string& name) {
  return CheckNameFree<registry::Loan>(replica, name, "loan");
}

absl::Status CheckClutchNameFree(const Replica& replica, const std::string& name) {
  return CheckNameFree<registry::Clutch>(replica, name, "sac");
}

}  // namespace broodpact::replica
