#include "cli/commands/device.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/care.h"
#include "cli/commands/member.h"
#include "cli/confirm.h"
#include "cli/show/show.h"
#include "client/base/status.h"
#include "client/replica/acts_member.h"

namespace broodpact::cli {
namespace {

constexpr std::string_view kWhichDevice =
    "Device, by the beginning of its id, or by the label of one of yours";

void DescribeList(Command& command, ListDevicesOptions& options) {
  command.Option("--of", "keeper", options.keeper, "Whose (default: yours)");
  command.AddExample("Which computers write in my name?", "broodpact device list");
}

void DescribeInviteDevice(Command& command, InviteDeviceOptions& options) {
  command.Note(
      "The code alone goes to standard output. It is a secret, good for one device. On the other "
      "computer: broodpact join - < code. Both then act for you, and each can revoke the other. A "
      "registrar can let a device of a keeper in who has none left.");
  command.Option("--label", "text", options.label, "What you call it");
  command.Option("--for", "keeper", options.keeper, "A keeper who has lost every device");
  command.AddExample("Add the laptop that you take to meetings",
                     "broodpact device invite --label field > code && broodpact sync");
}

void DescribeRevoke(Command& command, RevokeDeviceOptions& options) {
  command.Note(
      "From its arrival on nothing of the device counts but what it wrote up to the last commit "
      "that counts, and the server refuses it. What had arrived before stays as it is: settle it "
      "if a thief wrote it. You revoke your own devices, a registrar those of keepers; of a "
      "registrar's, enough others sign (broodpact motion).");
  command.Positional("device", options.device, std::string(kWhichDevice));
  command.Number("--last", "arrival", options.last,
                 "Last commit that counts, by its arrival (default: the last one that arrived)");
  command.Flag("--with-carried", options.with_carried,
               "Count what this replica carries of it, undelivered, too");
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.Flag("--yes", options.yes, "Do not ask");
  command.AddExample("The field laptop was stolen",
                     "broodpact device revoke field --reason stolen && broodpact sync");
}

void DescribeAdopt(Command& command, AdoptOptions& options) {
  command.Note(
      "States again what this replica carries of a device that was cut off (bundle read brings "
      "it): honest work that comes late counts from now on, as its keeper's. By another device of "
      "the keeper, or by a registrar. Look at it first: broodpact log.");
  command.Positional("device", options.device, std::string(kWhichDevice));
  command.AddExample("Take over what was recorded before the theft",
                     "broodpact device adopt 2s4kq");
}

void DescribeRotate(Command& command, RotateOptions& options) {
  command.Note(
      "Gives this device another secret key, when a copy of the old one may be about. Needs the "
      "server. Leases and label go over to the new key.");
  command.Flag("--yes", options.yes, "Do not ask");
  command.AddExample("A backup with the key was lost", "broodpact device rotate");
}

Consent ConsentOf(bool yes) {
  return yes ? Consent::kGiven : Consent::kAsk;
}

// What is so after a revocation: of a registrar's device, others may have to sign it first.
Said SaidOf(const replica::Revoked& revoked, const DeviceId& device) {
  if (revoked.state == registry::DeviceState::kActive) {
    return {.message = fmt::format("You ask that device {} is revoked; the last of it that would "
                                   "count is {}.",
                                   ToShortText(device), revoked.cut),
            .subject = RefOf(device, ""),
            .next = "broodpact motion list"};
  }
  return {.message = fmt::format("Device {} is revoked; the last of it that counts is {}.",
                                 ToShortText(device), revoked.cut),
          .subject = RefOf(device, "")};
}

}  // namespace

absl::Status RunListDevices(const Desk& desk, const ListDevicesOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  KeeperId keeper = view.self();
  if (!options.keeper.empty()) {
    BP_ASSIGN_OR_RETURN(keeper, view.KeeperNamed(options.keeper));
  }
  BP_ASSIGN_OR_RETURN(const v1::DeviceList list,
                      view.Devices(keeper, DeviceOf(replica->device_key())));
  return Present(desk, list);
}

absl::Status RunInviteDevice(const Desk& desk, const InviteDeviceOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  const replica::View view = ViewOf(*replica);
  KeeperId keeper = view.self();
  if (!options.keeper.empty()) {
    BP_ASSIGN_OR_RETURN(keeper, view.KeeperNamed(options.keeper));
  }
  BP_ASSIGN_OR_RETURN(const std::string code, replica->InviteDevice(keeper, options.label));
  BP_ASSIGN_OR_RETURN(const v1::Keeper whose, view.Keeper(keeper));
  return ReportCode(desk, *replica, code, fmt::format("device of {}", whose.name()));
}

absl::Status RunRevokeDevice(const Desk& desk, const RevokeDeviceOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const DeviceId device, ViewOf(*replica).DeviceNamed(options.device));
  const std::string question =
      device == DeviceOf(replica->device_key())
          ? "Revoke this very device? Nothing that it records later will count."
          : fmt::format("Revoke device {} for good?", ToShortText(device));
  BP_RETURN_IF_ERROR(Confirm(desk, question, ConsentOf(options.yes)));
  replica::CutDraft draft{
      .device = device, .with_carried = options.with_carried, .reason = options.reason};
  if (options.last) draft.last_arrival = *options.last;
  BP_ASSIGN_OR_RETURN(const replica::Revoked revoked, replica::RevokeDevice(*replica, draft));
  if (revoked.arrived_after > 0) {
    desk.terminal.messages << fmt::format(
        "{} of the device arrived after that and stand: look at them in broodpact log, and settle "
        "what is not honest.\n",
        Counted(revoked.arrived_after, "commit"));
  }
  if (revoked.signed_motion && !options.reason.empty()) {
    desk.terminal.messages << fmt::format(
        "Your reason is not recorded: motion {}, which you have signed, keeps its own.\n",
        ToShortText(*revoked.signed_motion));
  }
  return ReportAct(desk, *replica, revoked.acted, SaidOf(revoked, device));
}

std::string AdoptedText(const replica::AdoptReport& report, const DeviceId& device) {
  const bool none = report.adopted + report.known + report.refused.size() == 0;
  if (none) {
    return fmt::format("Nothing of device {} is kept here; `broodpact bundle read` brings it.",
                       ToShortText(device));
  }
  std::string text = fmt::format("{} of device {} adopted", Counted(report.adopted, "commit"),
                                 ToShortText(device));
  if (report.known > 0) text += fmt::format("; {} had been before", report.known);
  return text + '.';
}

absl::Status RunAdopt(const Desk& desk, const AdoptOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const DeviceId device, ViewOf(*replica).DeviceNamed(options.device));
  BP_ASSIGN_OR_RETURN(const replica::AdoptReport report, replica->Adopt(device));
  for (const std::string& refused : report.refused) {
    desk.terminal.messages << "Not adopted: " << Clean(refused) << '\n';
  }
  return ReportAct(desk, *replica, {.undelivered = replica->undelivered().size()},
                   {.message = AdoptedText(report, device), .subject = RefOf(device, "")});
}

absl::Status RunRotate(const Desk& desk, const RotateOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  BP_RETURN_IF_ERROR(Confirm(desk, "Give this device another key? Copies of this folder end.",
                             ConsentOf(options.yes)));
  BP_RETURN_IF_ERROR(replica->RotateKey());
  // The new key is a device with a sealing key of its own: what the old one could read is sealed to
  // it before anything else.
  replica::Synced synced;
  for (const std::string& note : CareAfterSync(desk, *replica, {}, synced)) {
    desk.terminal.messages << "Note: " << Clean(note) << '\n';
  }
  BP_RETURN_IF_ERROR(TellRepair(desk, *replica));
  const DeviceId device = DeviceOf(replica->device_key());
  return ReportAct(desk, *replica, {.undelivered = replica->undelivered().size()},
                   {.message = fmt::format("This device has another key now, and is device {}.",
                                           ToShortText(device)),
                    .subject = RefOf(device, ""),
                    .next = "broodpact device list"});
}

void AddDeviceCommands(Command& root) {
  Command& device = root.AddGroup("device", "Let devices of yours in, and cut them off");
  device.Add("list", "List a keeper's devices", DescribeList, RunListDevices);
  device.Add("invite", "Write an invitation for a further device", DescribeInviteDevice,
             RunInviteDevice);
  device.Add("revoke", "Cut a device off", DescribeRevoke, RunRevokeDevice);
  device.Add("adopt", "Adopt late work of a device that was cut off", DescribeAdopt, RunAdopt);
  device.Add("rotate", "Give this device another key", DescribeRotate, RunRotate);
}

}  // namespace broodpact::cli
