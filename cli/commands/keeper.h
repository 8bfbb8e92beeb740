#pragma once

// broodpact keeper, broodpact group: who there is, and what is managed together.

#include <string>

#include "absl/status/status.h"

#include "broodpact/v1/registry.pb.h"
#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct ListKeepersOptions {};
struct ShowKeeperOptions {
  std::string keeper{};
};
struct AddGroupOptions {
  std::string name{};
  std::string taxon{};
  std::string locality{};
  std::string line{};
};
struct ListGroupsOptions {};
struct ShowGroupOptions {
  std::string group{};
  std::string svg{};
};

// Marks the device that answers among those of a keeper.
void MarkOwnDevice(const replica::Replica& replica, v1::Keeper& keeper);

absl::Status RunListKeepers(const Desk& desk, const ListKeepersOptions& options);
absl::Status RunShowKeeper(const Desk& desk, const ShowKeeperOptions& options);
absl::Status RunAddGroup(const Desk& desk, const AddGroupOptions& options);
absl::Status RunListGroups(const Desk& desk, const ListGroupsOptions& options);
absl::Status RunShowGroup(const Desk& desk, const ShowGroupOptions& options);

void AddKeeperCommands(Command& root);
void AddGroupCommands(Command& root);

}  // namespace broodpact::cli
