#include "cli/commands/keeper.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/group.h"
#include "cli/commands/motion.h"
#include "cli/commands/share.h"
#include "cli/expectations.h"
#include "cli/show/health.h"
#include "cli/show/show.h"
#include "cli/text_file.h"
#include "client/replica/acts_animal.h"
#include "client/replica/health.h"

namespace broodpact::cli {
namespace {

void DescribeListKeepers(Command& command, ListKeepersOptions& /*options*/) {
  command.AddExample("Who is in the cooperative", "broodpact keeper list");
}

void DescribeShowKeeper(Command& command, ShowKeeperOptions& options) {
  command.Positional("keeper", options.keeper, "Keeper, by name or id");
  command.AddExample("Role, region and devices of mira", "broodpact keeper show mira");
}

void DescribeAddGroup(Command& command, AddGroupOptions& options) {
  command.Note(
      "A group is a taxon, a locality and a line that the cooperative manages as one population. "
      "Name a region or a state, never an exact site.");
  command.Positional("name", options.name, "Short name, such as hamorii-colima");
  command.Option("--taxon", "name", options.taxon, "Taxon, as you write it").Required();
  command.Option("--locality", "name", options.locality, "Coarse locality");
  command.Option("--line", "name", options.line, "Line within the locality");
  command.AddExample("Enter a group with its coarse locality",
                     "broodpact group add hamorii-colima --taxon \"Brachypelma hamorii\" "
                     "--locality Colima");
}

void DescribeListGroups(Command& command, ListGroupsOptions& /*options*/) {
  command.AddExample("All breeding groups", "broodpact group list");
}

void DescribeShowGroup(Command& command, ShowGroupOptions& options) {
  command.Note(
      "A group is shown as one population: who lives, whose genes are left, how diversity went, "
      "and "
      "how many mature males and females there were month by month. Slings in lots do not count.");
  command.Positional("group", options.group, "Group, by name or id");
  command.Option("--svg", "file", options.svg, "Write the charts as a picture to a file instead");
  command.AddExample("How does the group fare?", "broodpact group show hamorii-colima");
  command.AddExample("The same as a picture",
                     "broodpact group show hamorii-colima --svg colima.svg");
}

}  // namespace

void MarkOwnDevice(const replica::Replica& replica, v1::Keeper& keeper) {
  const std::string own = ToText(DeviceOf(replica.device_key()));
  for (v1::Device& device : *keeper.mutable_devices()) device.set_own(device.id() == own);
}

absl::Status RunListKeepers(const Desk& desk, const ListKeepersOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(v1::KeeperList list, ViewOf(*replica).Keepers());
  for (v1::Keeper& keeper : *list.mutable_keepers()) MarkOwnDevice(*replica, keeper);
  return Present(desk, list);
}

absl::Status RunShowKeeper(const Desk& desk, const ShowKeeperOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const KeeperId id, view.KeeperNamed(options.keeper));
  BP_ASSIGN_OR_RETURN(v1::Keeper keeper, view.Keeper(id));
  MarkOwnDevice(*replica, keeper);
  return Present(desk, keeper);
}

absl::Status RunAddGroup(const Desk& desk, const AddGroupOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const replica::Made<GroupId> made,
                      replica::EnterGroup(*replica, {.group = {},
                                                     .name = options.name,
                                                     .taxon = options.taxon,
                                                     .locality = options.locality,
                                                     .line = options.line}));
  return ReportAct(desk, *replica, made.acted,
                   {.message = fmt::format("Group {} is entered: {}.", options.name, options.taxon),
                    .subject = RefOf(made.id, options.name)});
}

absl::Status RunListGroups(const Desk& desk, const ListGroupsOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const v1::GroupList list, ViewOf(*replica).Groups());
  return Present(desk, list);
}

absl::Status RunShowGroup(const Desk& desk, const ShowGroupOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const GroupId id, view.GroupNamed(options.group));
  BP_ASSIGN_OR_RETURN(const auto expectations, OwnExpectations(desk));
  BP_ASSIGN_OR_RETURN(const v1::GroupHealth health,
                      replica::HealthOf(view, id, desk.surroundings.clock.Today(),
                                        expectations ? &*expectations : nullptr));
  if (options.svg.empty()) return Present(desk, health);
  BP_RETURN_IF_ERROR(WriteText(options.svg, SvgOf(health)));
  desk.terminal.messages << fmt::format("The charts are in {}.\n", Clean(options.svg));
  return absl::OkStatus();
}

void AddKeeperCommands(Command& root) {
  Command& keeper = root.AddGroup("keeper", "Look at the keepers of the cooperative");
  keeper.Add("list", "List the keepers", DescribeListKeepers, RunListKeepers);
  keeper.Add("show", "Show one keeper", DescribeShowKeeper, RunShowKeeper);
  AddLeaveCommand(keeper);
  AddRoleCommands(keeper);
}

void AddGroupCommands(Command& root) {
  Command& group = root.AddGroup("group", "Enter and look at breeding groups");
  group.Add("add", "Enter a breeding group", DescribeAddGroup, RunAddGroup);
  group.Add("list", "List the breeding groups", DescribeListGroups, RunListGroups);
  group.Add("show", "Show how a breeding group fares", DescribeShowGroup, RunShowGroup);
  AddGroupNameCommands(group);
}

}  // namespace broodpact::cli
