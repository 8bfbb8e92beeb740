#include "cli/commands/subject.h"

#include <utility>

#include "cli/act.h"
#include "client/base/status.h"

namespace broodpact::cli {

absl::StatusOr<LotSubject> LotNamed(const Desk& desk, const std::string& name) {
  BP_ASSIGN_OR_RETURN(auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const LotId id, view.LotNamed(name));
  BP_ASSIGN_OR_RETURN(v1::Lot lot, view.Lot(id));
  return LotSubject{.replica = std::move(replica), .id = id, .lot = std::move(lot)};
}

absl::StatusOr<ClutchSubject> ClutchNamed(const Desk& desk, const std::string& name) {
  BP_ASSIGN_OR_RETURN(auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const ClutchId id, view.ClutchNamed(name));
  BP_ASSIGN_OR_RETURN(v1::Clutch clutch, view.Clutch(id));
  const v1::Ref ref = RefOf(id, clutch.name());
  return ClutchSubject{
      .replica = std::move(replica), .id = id, .clutch = std::move(clutch), .ref = ref};
}

}  // namespace broodpact::cli
