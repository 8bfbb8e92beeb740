#include "cli/commands/record.h"

#include <algorithm>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "cli/show/show.h"
#include "client/base/status.h"
#include "client/facts/commit.h"

namespace broodpact::cli {
namespace {

constexpr std::uint32_t kEntriesDefault = 20;

void DescribeClashes(Command& command, ClashesOptions& options) {
  command.Note(
      "Two statements that cannot both stand, or a promise that a fact broke. Nobody is to blame "
      "for most: two keepers were offline. They stay until the parties settle them.");
  command.Flag("--all", options.all, "All open ones of the cooperative, not only yours");
  command.AddExample("What you are a party of", "broodpact clashes");
}

void DescribeLog(Command& command, LogOptions& options) {
  command.Note(
      "The newest comes last. A commit without an arrival number is not delivered yet, and its "
      "verdict is provisional.");
  command.Flag("--mine", options.mine, "Only what you stated");
  command.Number("--limit", "n", options.limit, "At most so many (default: 20)").AtLeast(1);
  command.AddExample("The last things that were stated", "broodpact log");
  command.AddExample("Your own, the last hundred", "broodpact log --mine --limit 100");
}

void DescribeVerify(Command& command, VerifyOptions& /*options*/) {
  command.Note(
      "Computes hashes, signatures, verdicts and state again from the commits, and holds them "
      "against what is stored. Replicas of one log have one state digest: compare it with "
      "another keeper's.");
  command.AddExample("Is my replica whole?", "broodpact verify");
}

void DescribeRebuild(Command& command, RebuildOptions& /*options*/) {
  command.Note("No commit is touched: state and indexes are folded again from them.");
  command.AddExample("After verify has found a fault", "broodpact rebuild");
}

// What is carried for others is theirs, and own is also what a further device stated. What nobody
// is known to have written is own where this device wrote it.
bool IsAskedFor(const replica::Replica& replica, const LogOptions& options,
                const v1::LogEntry& entry) {
  return !options.mine || entry.keeper().id() == ToText(replica.identity().keeper) ||
         entry.device_id() == ToText(DeviceOf(replica.device_key()));
}

// Goes back over what has not arrived, which is behind all arrivals.
absl::Status AddUndelivered(const replica::Replica& replica, const LogOptions& options,
                            std::size_t count_max, std::vector<v1::LogEntry>& newest_first) {
  const std::vector<replica::Replica::Undelivered>& waiting = replica.undelivered();
  for (std::size_t i = waiting.size(); i > 0 && newest_first.size() < count_max; --i) {
    const replica::Replica::Undelivered& one = waiting[i - 1];
    BP_ASSIGN_OR_RETURN(v1::LogEntry entry,
                        replica::LogEntryOf(ViewOf(replica), one.commit, 0, {}, one.verdict));
    if (IsAskedFor(replica, options, entry)) newest_first.push_back(std::move(entry));
  }
  return absl::OkStatus();
}

// Goes back over the arrivals.
absl::Status AddArrivals(const replica::Replica& replica, const LogOptions& options,
                         std::size_t count_max, std::vector<v1::LogEntry>& newest_first) {
  for (std::uint64_t arrival = replica.store().point().arrivals;
       arrival > replica.store().base().arrivals && newest_first.size() < count_max; --arrival) {
    BP_ASSIGN_OR_RETURN(v1::LogEntry entry, EntryOfArrival(replica, arrival));
    if (IsAskedFor(replica, options, entry)) newest_first.push_back(std::move(entry));
  }
  return absl::OkStatus();
}

v1::VerifyResult ResultOf(const replica::Verified& verified) {
  v1::VerifyResult result;
  result.set_commits_checked(static_cast<std::uint32_t>(verified.commits));
  result.set_subjects_checked(static_cast<std::uint32_t>(verified.subjects));
  result.set_state_digest(ToHex(verified.state_digest));
  result.set_log_hash(ToHex(verified.point.log_hash));
  for (const std::string& fault : verified.faults) result.add_faults(fault);
  return result;
}

absl::Status PresentVerified(const Desk& desk, const replica::Verified& verified,
                             std::string_view next) {
  BP_RETURN_IF_ERROR(Present(desk, ResultOf(verified)));
  if (verified.faults.empty()) return absl::OkStatus();
  return Fail(absl::StatusCode::kDataLoss, "REPLICA_FAULTY",
              fmt::format("{} found; {}", Counted(verified.faults.size(), "fault"), next));
}

// Says that something long begins, to a person.
void SayBeginning(const Desk& desk, std::string_view what, const replica::Replica& replica) {
  if (!desk.terminal.messages_are_tty) return;
  desk.terminal.messages << fmt::format("{} {} ...\n", what,
                                        Counted(replica.store().point().arrivals, "commit"))
                         << std::flush;
}

}  // namespace

absl::StatusOr<v1::LogEntry> EntryOfArrival(const replica::Replica& replica,
                                            std::uint64_t arrival) {
  BP_ASSIGN_OR_RETURN(const store::StoredArrival stored, replica.store().ReadArrival(arrival));
  BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
  return replica::LogEntryOf(ViewOf(replica), commit, arrival, facts::TimesOf(stored),
                             stored.verdict);
}

absl::Status RunClashes(const Desk& desk, const ClashesOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const replica::View view = ViewOf(*replica);
  BP_ASSIGN_OR_RETURN(const v1::ClashList list,
                      options.all ? view.Clashes() : view.ClashesOf(view.self()));
  return Present(desk, list);
}

absl::Status RunLog(const Desk& desk, const LogOptions& options) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  const std::size_t count_max = options.limit.value_or(kEntriesDefault);
  std::vector<v1::LogEntry> newest_first;
  BP_RETURN_IF_ERROR(AddUndelivered(*replica, options, count_max, newest_first));
  BP_RETURN_IF_ERROR(AddArrivals(*replica, options, count_max, newest_first));
  if (newest_first.size() < count_max) {
    const absl::Status history = replica->store().CheckHistory();
    if (!history.ok()) {
      desk.terminal.messages << "Note: " << Clean(std::string(history.message())) << '\n';
    }
  }
  std::reverse(newest_first.begin(), newest_first.end());
  v1::LogEntryList list;
  for (v1::LogEntry& entry : newest_first) *list.add_entries() = std::move(entry);
  return Present(desk, list);
}

absl::Status RunVerify(const Desk& desk, const VerifyOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToRead(desk));
  SayBeginning(desk, "Checking", *replica);
  BP_ASSIGN_OR_RETURN(const replica::Verified verified, replica->Verify());
  return PresentVerified(desk, verified, "state and indexes: broodpact rebuild");
}

absl::Status RunRebuild(const Desk& desk, const RebuildOptions& /*options*/) {
  BP_ASSIGN_OR_RETURN(const auto replica, OpenToWrite(desk));
  SayBeginning(desk, "Folding again", *replica);
  BP_ASSIGN_OR_RETURN(const replica::Verified verified, replica->Rebuild());
  return PresentVerified(desk, verified,
                         "the commits themselves are damaged: start a fresh folder and join again");
}

void AddRecordCommands(Command& root) {
  root.Add("clashes", "List what cannot both stand", DescribeClashes, RunClashes);
  root.Add("log", "List what was stated, and what became of it", DescribeLog, RunLog);
  root.Add("verify", "Check the replica against its commits", DescribeVerify, RunVerify);
  root.Add("rebuild", "Restore state and indexes from the commits", DescribeRebuild, RunRebuild);
}

}  // namespace broodpact::cli
