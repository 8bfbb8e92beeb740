// Devices, motions and leases as messages.

#include <algorithm>

#include <fmt/format.h>

#include "client/base/hash.h"
#include "client/registry/motion.h"
#include "client/replica/internal/messages.h"
#include "client/replica/internal/words.h"
#include "client/replica/view.h"

namespace broodpact::replica {
namespace {

std::string_view StateWord(registry::DeviceState state) {
  switch (state) {
    case registry::DeviceState::kActive:
      return "active";
    case registry::DeviceState::kRevoked:
      return "revoked";
    case registry::DeviceState::kReplaced:
      return "replaced";
    case registry::DeviceState::kLeft:
      return "left";
  }
  return "";
}

std::string_view LeaseWord(registry::LeaseKind kind) {
  switch (kind) {
    case registry::LeaseKind::kOwnership:
      return "ownership";
    case registry::LeaseKind::kHolding:
      return "holding";
    case registry::LeaseKind::kSlings:
      return "slings";
  }
  return "";
}

}  // namespace

v1::Device Messages::Of(const registry::Device& device) {
  v1::Device message;
  message.set_id(ToText(device.id));
  message.set_public_key(ToHex(device.key));
  message.set_label(device.label);
  message.set_state(std::string(StateWord(device.state)));
  message.set_since_time(InstantText(device.entry.time_ms));
  if (!device.admitted_by.empty()) message.set_admitted_by_id(ToText(device.admitted_by));
  if (device.state == registry::DeviceState::kActive) return message;
  message.set_ended_time(InstantText(device.ended.time_ms));
  *message.mutable_ended_by() = refs_.Ref(device.ended.keeper);
  message.set_ended_arrival(Narrow(device.ended.arrival));
  if (device.cut.seq != 0) {
    message.set_last_counted(
        fmt::format("commit {} of life {}", device.cut.seq, device.cut.incarnation));
  }
  message.set_reason(device.reason);
  if (!device.successor.empty()) message.set_successor_id(ToText(device.successor));
  return message;
}

bool Messages::Votes(const KeeperId& id, const registry::Electorate& electorate) {
  const auto keeper = Find<registry::Keeper>(id);
  if (!keeper || keeper->role == facts::Role::kObserver) return false;
  if (electorate.of_registrars && keeper->role != facts::Role::kRegistrar) return false;
  return std::ranges::any_of(keeper->devices, [&](const DeviceId& device) {
    const auto known = Find<registry::Device>(device);
    return known && known->state == registry::DeviceState::kActive;
  });
}

v1::Motion Messages::Of(const registry::Motion& motion, const registry::Votes& votes) {
  v1::Motion message;
  message.set_id(ToText(motion.id));
  const std::string name = refs_.Name(motion.keeper);
  message.set_message(
      motion.what == registry::MotionMatter::kRole
          ? fmt::format("make {} {}", name, RoleWord(motion.role))
          : fmt::format("revoke device {} of {}, a registrar", ToShortText(motion.device), name));
  *message.mutable_keeper() = refs_.Ref(motion.keeper);
  message.set_reason(motion.reason);
  for (const registry::SignatureRecord& record : motion.signatures) {
    *message.add_signers() = refs_.Ref(record.keeper);
  }
  const bool carried = motion.state == registry::MotionState::kCarried;
  message.set_state(carried ? "carried" : "open");
  message.set_time(InstantText(motion.entry.time_ms));
  message.set_standing(StandingOf(registry::Kind::kMotion, motion.id.bytes));
  if (carried) return message;
  registry::Votes about = votes;
  about.about_registrar = Votes(motion.keeper, {.of_registrars = true});
  const registry::Electorate electorate = registry::ElectorateFor(about);
  message.set_electorate(electorate.of_registrars ? "registrars" : "keepers");
  const auto signatures =
      std::ranges::count_if(motion.signatures, [&](const registry::SignatureRecord& record) {
        return record.keeper != motion.keeper && Votes(record.keeper, electorate);
      });
  const auto counted = static_cast<std::uint64_t>(signatures);
  message.set_missing(Narrow(electorate.needed > counted ? electorate.needed - counted : 0));
  return message;
}

v1::Lease Messages::Of(const registry::Lease& lease) {
  v1::Lease message;
  message.set_id(ToText(lease.id));
  message.set_what(std::string(LeaseWord(lease.kind)));
  *message.mutable_keeper() = refs_.Ref(lease.keeper);
  message.set_device_id(ToText(lease.device));
  if (const auto device = Find<registry::Device>(lease.device)) {
    message.set_device_label(device->label);
  }
  message.set_slings(lease.slings);
  message.set_until_day(ToText(lease.until));
  message.set_arrival(Narrow(lease.entry.arrival));
  return message;
}

}  // namespace broodpact::replica
