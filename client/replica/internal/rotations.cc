#include "client/replica/internal/rotations.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "client/base/status.h"
#include "client/facts/stated.h"
#include "client/registry/state.h"
#include "client/sync/joining.h"

namespace broodpact::replica {
namespace {

bool BringsIn(const facts::Commit& commit, const DeviceId& device) {
  const facts::KeyRotation* rotation = facts::RotationIn(commit);
  return rotation != nullptr && DeviceOf(rotation->device_key) == device;
}

}  // namespace

absl::StatusOr<std::vector<facts::SignedCommit>> RotationsTo(const store::Store& database,
                                                             DeviceId device) {
  std::vector<facts::SignedCommit> rotations;  // the latest first
  while (rotations.size() < sync::kRotationsMax) {
    BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> found,
                        registry::Read<registry::Device>(database, device));
    if (!found || found->entry.arrival <= database.base().arrivals) break;
    BP_ASSIGN_OR_RETURN(store::StoredArrival stored, database.ReadArrival(found->entry.arrival));
    BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
    // The last of its chain, so none after it vouches for it.
    if (!BringsIn(commit, device) || !stored.signature) break;
    rotations.push_back({.bytes = std::move(stored.bytes), .signature = *stored.signature});
    device = commit.header.device;
  }
  std::ranges::reverse(rotations);
  return rotations;
}

}  // namespace broodpact::replica
