// Devices, motions and leases.

#include <fmt/format.h>

#include "cli/show/show.h"

namespace broodpact::cli {
namespace {

std::string EndText(const v1::Device& device) {
  if (device.ended_by().id().empty()) return "";
  std::string text = fmt::format("by {} at {}", device.ended_by().name(), device.ended_time());
  if (!device.last_counted().empty()) text += ", after " + device.last_counted();
  if (!device.successor_id().empty()) text += ", now " + ShortId(device.successor_id());
  if (!device.reason().empty()) text += ": " + device.reason();
  return text;
}

std::string SignersOf(const v1::Motion& motion) {
  std::string names;
  for (const v1::Ref& signer : motion.signers()) {
    names += (names.empty() ? "" : ", ") + signer.name();
  }
  return names;
}

}  // namespace

std::string DeviceText(const v1::Device& device) {
  std::string text = device.id();
  if (!device.label().empty()) text += fmt::format(" ({})", device.label());
  text += ", " + device.state();
  const std::string end = EndText(device);
  return end.empty() ? text : text + " " + end;
}

std::string LeaseText(const v1::Lease& lease) {
  const std::string what =
      lease.what() == "slings" ? Counted(lease.slings(), "sling") : lease.what();
  const std::string device =
      lease.device_label().empty() ? ShortId(lease.device_id()) : lease.device_label();
  return fmt::format("{} until {}, by device {} of {}{}", what, lease.until_day(), device,
                     lease.keeper().name(), lease.arrival() == 0 ? ", not firm yet" : "");
}

void Print(const Terminal& terminal, const v1::DeviceList& list) {
  std::vector<Row> rows;
  for (const v1::Device& device : list.devices()) {
    rows.push_back({ShortId(device.id()), device.label(), device.state(), device.since_time(),
                    EndText(device), device.own() ? "this one" : ""});
  }
  PrintTable(terminal, {"DEVICE", "LABEL", "STATE", "SINCE", "ENDED", ""}, rows);
}

void Print(const Terminal& terminal, const v1::MotionList& list) {
  std::vector<Row> rows;
  for (const v1::Motion& motion : list.motions()) {
    const std::string missing =
        motion.state() == "open"
            ? fmt::format("{} more of the {}", motion.missing(), motion.electorate())
            : motion.state();
    rows.push_back({ShortId(motion.id()), motion.message(), SignersOf(motion), missing,
                    motion.reason(), StandingText(motion.standing())});
  }
  PrintTable(terminal, {"MOTION", "ASKS TO", "SIGNED BY", "NEEDS", "BECAUSE", ""}, rows);
}

}  // namespace broodpact::cli
