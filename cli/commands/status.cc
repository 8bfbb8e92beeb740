#include "cli/commands/status.h"

#include <fmt/format.h>

#include "cli/commands/keeper.h"
#include "cli/commands/tasks.h"
#include "cli/show/show.h"
#include "client/base/status.h"
#include "client/replica/notes.h"

namespace broodpact::cli {
namespace {

void DescribeStatus(Command& command, StatusOptions& /*options*/) {
  command.Note(
      "Looks at this replica only. What waits for you stands at the end, each with the command "
      "that does it.");
  command.AddExample("Who am I here, and what waits for me?", "broodpact status");
}

void DescribeHeads(Command& command, HeadsOptions& /*options*/) {
  command.Note(
      "A head says how many arrivals the server's log had, with one hash for all of them, under "
      "its signature. Two keepers whose heads of as many arrivals differ hold proof that it tells "
      "two histories. What convicts it is kept here for good, and ends with exit code 8.");
  command.AddExample("All of it, to send to another keeper", "broodpact heads --json");
}

// What a keeper is before there is a cooperative that knows it.
v1::Keeper KeeperOf(const replica::Identity& identity) {
  v1::Keeper keeper;
  keeper.set_id(ToText(identity.keeper));
  keeper.set_name(identity.keeper_name);
  keeper.set_region(identity.region);
  return keeper;
}

absl::Status AddRegistry(const Desk& desk, const replica::Replica& replica,
                         v1::ReplicaStatus& status) {
  const replica::View view = ViewOf(replica);
  const absl::StatusOr<v1::Keeper> keeper = view.Keeper(view.self());
  if (keeper.ok()) *status.mutable_keeper() = *keeper;
  MarkOwnDevice(replica, *status.mutable_keeper());
  const absl::StatusOr<v1::Cooperative> cooperative = view.Cooperative();
  if (cooperative.ok()) *status.mutable_cooperative() = *cooperative;
  BP_ASSIGN_OR_RETURN(const v1::ClashList clashes, view.ClashesOf(view.self()));
  status.set_clashes(static_cast<std::uint32_t>(clashes.clashes_size()));
  BP_ASSIGN_OR_RETURN(const std::vector<std::string> tasks,
                      TasksOf(view, desk.surroundings.clock.Today()));
  for (const std::string& task : tasks) status.add_tasks(task);
  return absl::OkStatus();
}

}  // namespace

absl::Status RunStatus(const Desk& desk, const StatusOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  v1::ReplicaStatus status;
  *status.mutable_keeper() = KeeperOf(replica->identity());
  status.set_device_id(ToText(DeviceOf(replica->device_key())));
  BP_ASSIGN_OR_RETURN(const auto credentials, desk.home.ReadCredentials());
  if (credentials) status.set_server(credentials->address);
  const facts::LogPoint point = replica->store().point();
  status.set_arrivals(static_cast<std::uint32_t>(point.arrivals));
  if (point.log_hash != Hash{}) status.set_log_hash(ToHex(point.log_hash));
  const std::uint64_t carried = replica->carried();
  status.set_undelivered(static_cast<std::uint32_t>(replica->undelivered().size() - carried));
  status.set_carried(static_cast<std::uint32_t>(carried));
  status.set_aside(static_cast<std::uint32_t>(replica->aside()));
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Head> head, replica->LastHead());
  if (head) status.set_sync_time(InstantText(head->time_ms));
  status.set_refusal(std::string(replica->Refusal().message()));
  status.set_incarnation(replica->identity().incarnation);
  BP_ASSIGN_OR_RETURN(const std::vector<std::string> notes, replica::NotesOf(*replica));
  for (const std::string& note : notes) status.add_notes(note);
  BP_ASSIGN_OR_RETURN(const std::optional<replica::MissingHistory> missing, replica->History());
  if (missing) {
    v1::SnapshotStart& start = *status.mutable_snapshot();
    start.set_arrivals(static_cast<std::uint32_t>(missing->base.arrivals));
    for (const std::string& name : missing->attested_by) start.add_attested_by(name);
    start.set_checked(static_cast<std::uint32_t>(missing->checked));
  }
  if (replica->cooperative() != Hash{}) {
    BP_RETURN_IF_ERROR(AddRegistry(desk, *replica, status));
  }
  return Present(desk, status);
}

absl::Status RunHeads(const Desk& desk, const HeadsOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  v1::LogHeadList list;
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Head> last, replica->LastHead());
  if (last) *list.mutable_last() = replica::HeadMessageOf(*last);
  BP_ASSIGN_OR_RETURN(const std::vector<replica::Doubt> doubts, replica->Doubts());
  for (const replica::Doubt& doubt : doubts) {
    v1::LogDoubt& message = *list.add_doubts();
    message.set_reason(doubt.reason);
    message.set_message(doubt.message);
    if (doubt.ours.point.arrivals > 0) *message.mutable_ours() = replica::HeadMessageOf(doubt.ours);
    *message.mutable_theirs() = replica::HeadMessageOf(doubt.theirs);
  }
  BP_RETURN_IF_ERROR(Present(desk, list));
  if (doubts.empty()) return absl::OkStatus();
  return Fail(absl::StatusCode::kDataLoss, doubts.front().reason, doubts.front().message);
}

void AddStatusCommand(Command& root) {
  root.Add("heads", "Show what the server has signed of its log", DescribeHeads, RunHeads);

  root.Add("status", "Show who you are here and what waits for you", DescribeStatus, RunStatus);
}

}  // namespace broodpact::cli
