// Devices and motions: what `device` and `motion` show.

#include <algorithm>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/motion.h"
#include "client/replica/internal/bulk.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/motions.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

constexpr std::size_t kIdTypedMin = 4;  // characters of an id that name something

absl::Status Unknown(std::string_view what, std::string_view text, std::string_view where) {
  return Fail(absl::StatusCode::kNotFound, "UNKNOWN_SUBJECT",
              fmt::format("no {} begins with '{}'; `broodpact {}` shows them", what, text, where));
}

absl::Status Ambiguous(std::string_view what, std::string_view text, std::size_t count) {
  return Fail(absl::StatusCode::kInvalidArgument, "AMBIGUOUS_SUBJECT",
              fmt::format("'{}' begins {} {}; type more of the id", text, count, what));
}

}  // namespace

absl::StatusOr<v1::DeviceList> View::Devices(const KeeperId& id, const DeviceId& own) const {
  BP_ASSIGN_OR_RETURN(const v1::Keeper keeper, Keeper(id));
  v1::DeviceList list;
  list.mutable_keeper()->set_id(keeper.id());
  list.mutable_keeper()->set_name(keeper.name());
  for (const v1::Device& device : keeper.devices()) {
    v1::Device& added = *list.add_devices();
    added = device;
    added.set_own(device.id() == ToText(own));
  }
  return list;
}

absl::StatusOr<DeviceId> View::DeviceNamed(std::string_view text) const {
  std::vector<DeviceId> found;
  BP_ASSIGN_OR_RETURN(const v1::KeeperList keepers, Keepers());
  for (const v1::Keeper& keeper : keepers.keepers()) {
    for (const v1::Device& device : keeper.devices()) {
      const bool labelled = keeper.id() == ToText(self_) && device.label() == text;
      const bool named = text.size() >= kIdTypedMin && device.id().starts_with(text);
      const std::optional<IdBytes> id = ParseIdText(device.id());
      if ((labelled || named) && id) found.push_back(DeviceId{*id});
    }
  }
  if (found.size() == 1) return found.front();
  if (found.empty()) return Unknown("device", text, "device list --of <keeper>");
  return Ambiguous("devices", text, found.size());
}

absl::StatusOr<v1::MotionList> View::Motions(MotionRange which) const {
  BP_ASSIGN_OR_RETURN(const std::vector<registry::Motion> motions, MotionsOf(source_));
  BP_ASSIGN_OR_RETURN(const auto cooperative,
                      registry::Read<registry::Cooperative>(source_, registry::kCooperativeKey.id));
  registry::Votes votes;
  if (cooperative) {
    votes = {.registrars = cooperative->registrars, .voters = cooperative->voters};
  }
  Messages writer(source_, provisional_);
  v1::MotionList list;
  for (const registry::Motion& motion : motions) {
    const bool open = motion.state == registry::MotionState::kOpen;
    if (open || which == MotionRange::kAll) *list.add_motions() = writer.Of(motion, votes);
  }
  BP_RETURN_IF_ERROR(writer.status());
  return list;
}

absl::StatusOr<MotionId> View::MotionNamed(std::string_view text) const {
  BP_ASSIGN_OR_RETURN(const std::vector<registry::Motion> motions, MotionsOf(source_));
  std::vector<MotionId> found;
  for (const registry::Motion& motion : motions) {
    if (text.size() >= kIdTypedMin && ToText(motion.id).starts_with(text)) {
      found.push_back(motion.id);
    }
  }
  if (found.size() == 1) return found.front();
  if (found.empty()) return Unknown("motion", text, "motion list");
  return Ambiguous("motions", text, found.size());
}

}  // namespace broodpact::replica
