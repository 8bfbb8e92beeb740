#include "cli/commands/motion.h"

#include <fmt/format.h>

#include "cli/act.h"
#include "cli/commands/words.h"
#include "cli/confirm.h"
#include "cli/show/show.h"
#include "client/base/status.h"
#include "client/replica/acts_member.h"

namespace broodpact::cli {
namespace {

void DescribeListMotions(Command& command, ListMotionsOptions& options) {
  command.Note(
      "A role of registrar, and a registrar's device, are not one keeper's to give or take: more "
      "than half of the registrars sign; where those apart from the one it is about are too few, "
      "more than half of all keepers.");
  command.Flag("--all", options.all, "Also those that have taken effect");
  command.AddExample("What waits for signatures?", "broodpact motion list");
}

void DescribeSignMotion(Command& command, SignMotionOptions& options) {
  command.Positional("motion", options.motion, "Motion, by the beginning of its id");
  command.AddExample("Sign", "broodpact motion sign 2s4kq");
}

void DescribeRole(Command& command, RoleOptions& options) {
  command.Note(
      "Between keeper and observer at once, by a registrar. To or from registrar as a motion that "
      "others sign; a registrar may step down. Have three registrars: then no stolen key of one "
      "removes another.");
  command.Positional("keeper", options.keeper, "Keeper, by name or id");
  command.Positional("role", options.role, "What the keeper will be")
      .OneOf({"keeper", "registrar", "observer"});
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.AddExample("Ask that iva becomes a registrar", "broodpact keeper role iva registrar");
}

void DescribeQuit(Command& command, QuitOptions& options) {
  command.Note(
      "All your devices cease with this. What you own, hold, owe and are owed stays and is shown; "
      "say first who acts for you: broodpact keeper leave. A registrar can let you in again.");
  command.Option("--reason", "text", options.reason, "Why, in your words");
  command.Flag("--yes", options.yes, "Do not ask");
  command.AddExample("Leave", "broodpact keeper quit && broodpact sync");
}

}  // namespace

absl::Status RunListMotions(const Desk& desk, const ListMotionsOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  BP_ASSIGN_OR_RETURN(const v1::MotionList list,
                      ViewOf(*replica).Motions(options.all ? replica::MotionRange::kAll
                                                           : replica::MotionRange::kOpen));
  return Present(desk, list);
}

absl::Status RunSignMotion(const Desk& desk, const SignMotionOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const MotionId motion, ViewOf(*replica).MotionNamed(options.motion));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::SignMotion(*replica, motion));
  return ReportAct(desk, *replica, acted,
                   {.message = fmt::format("Motion {} is signed.", ToShortText(motion)),
                    .subject = RefOf(motion, "")});
}

absl::Status RunRole(const Desk& desk, const RoleOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_ASSIGN_OR_RETURN(const KeeperId keeper, ViewOf(*replica).KeeperNamed(options.keeper));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted,
                      replica::ChangeRole(*replica, keeper, RoleOf(options.role), options.reason));
  BP_ASSIGN_OR_RETURN(const v1::Keeper now, ViewOf(*replica).Keeper(keeper));
  return ReportAct(
      desk, *replica, acted,
      {.message = now.role() == options.role
                      ? fmt::format("{} is {} now.", now.name(), options.role)
                      : fmt::format("You ask that {} becomes {}.", now.name(), options.role),
       .subject = RefOf(keeper, now.name())});
}

absl::Status RunQuit(const Desk& desk, const QuitOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToAct(desk));
  BP_RETURN_IF_ERROR(Confirm(desk, "Leave the cooperative? All your devices cease.",
                             options.yes ? Consent::kGiven : Consent::kAsk));
  BP_ASSIGN_OR_RETURN(const replica::Acted acted, replica::Leave(*replica, options.reason));
  return ReportAct(desk, *replica, acted,
                   {.message = "You have left; it takes effect when this has arrived.",
                    .subject = RefOf(replica->identity().keeper, replica->identity().keeper_name)});
}

void AddMotionCommands(Command& root) {
  Command& motion = root.AddGroup("motion", "Decide with others about registrars");
  motion.Add("list", "List what waits for signatures", DescribeListMotions, RunListMotions);
  motion.Add("sign", "Sign a motion", DescribeSignMotion, RunSignMotion);
}

void AddRoleCommands(Command& keeper) {
  keeper.Add("role", "Give a keeper another role", DescribeRole, RunRole);
  keeper.Add("quit", "Leave the cooperative", DescribeQuit, RunQuit);
}

}  // namespace broodpact::cli
