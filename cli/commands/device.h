#pragma once

// broodpact device list, invite, revoke, adopt, rotate: the devices of a keeper.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct ListDevicesOptions {
  std::string keeper{};  // empty: oneself
};
struct InviteDeviceOptions {
  std::string label{};
  std::string keeper{};  // empty: oneself
};
struct RevokeDeviceOptions {
  std::string device{};
  std::optional<std::uint32_t> last{};  // arrival of the last commit that counts
  bool with_carried = false;
  std::string reason{};
  bool yes = false;
};
struct AdoptOptions {
  std::string device{};
};
struct RotateOptions {
  bool yes = false;
};

absl::Status RunListDevices(const Desk& desk, const ListDevicesOptions& options);
absl::Status RunInviteDevice(const Desk& desk, const InviteDeviceOptions& options);
absl::Status RunRevokeDevice(const Desk& desk, const RevokeDeviceOptions& options);
absl::Status RunAdopt(const Desk& desk, const AdoptOptions& options);
absl::Status RunRotate(const Desk& desk, const RotateOptions& options);

void AddDeviceCommands(Command& root);

}  // namespace broodpact::cli
