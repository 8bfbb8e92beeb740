#include "cli/care.h"

#include <fmt/format.h>

#include "cli/show/show.h"
#include "client/base/status.h"
#include "client/replica/notes.h"

namespace broodpact::cli {
namespace {

void Add(replica::Synced more, replica::Synced& synced) {
  synced.progress.commits_sent += more.progress.commits_sent;
  synced.progress.commits_received += more.progress.commits_received;
  synced.progress.arrivals = more.progress.arrivals;
  synced.progress.arrivals_server = more.progress.arrivals_server;
  synced.point = more.point;
  synced.restated = more.restated;
  if (more.snapshot_fault) synced.snapshot_fault = std::move(more.snapshot_fault);
  for (replica::ChangedVerdict& changed : more.changed) {
    synced.changed.push_back(std::move(changed));
  }
}

}  // namespace

absl::Status TellRepair(const Desk& desk, replica::Replica& replica) {
  BP_ASSIGN_OR_RETURN(const std::optional<replica::Repair> repair, replica.UntoldRepair());
  if (!repair) return absl::OkStatus();
  desk.terminal.messages << Toned(desk.terminal, Tone::kLookAtIt, "Note: ")
                         << Clean(replica::RepairNote(*repair)) << std::endl;
  return replica.ForgetRepair();
}

std::string AddressSentence(const replica::Replica& replica, const replica::OpenedAddress& opened) {
  const absl::StatusOr<v1::Keeper> keeper = ViewOf(replica).Keeper(opened.keeper);
  return fmt::format("Your address is open to {} until {}.",
                     keeper.ok() ? keeper->name() : ToShortText(opened.keeper),
                     ToText(opened.until));
}

std::vector<std::string> CareAfterSync(const Desk& desk, replica::Replica& replica,
                                       const sync::Options& options, replica::Synced& synced) {
  std::vector<std::string> notes;
  const absl::StatusOr<replica::SealedCare> care = replica::CareForSealed(replica);
  if (!care.ok()) {
    notes.push_back(
        fmt::format("sealed text was not looked after: {}", std::string(care.status().message())));
    return notes;
  }
  for (const replica::OpenedAddress& opened : care->addresses) {
    notes.push_back(AddressSentence(replica, opened));
  }
  if (care->resealed > 0) {
    notes.push_back(
        fmt::format("{} sealed to a further device of yours", Counted(care->resealed, "note")));
  }
  if (!care->did_something()) return notes;
  sync::Options again = options;
  again.mode = sync::Mode::kOnce;
  again.now_ms = desk.surroundings.clock.NowMillis();
  absl::StatusOr<replica::Synced> more = replica.Sync(again);
  if (more.ok()) {
    Add(*std::move(more), synced);
  } else {
    notes.push_back(fmt::format("what was stated about sealed text goes with the next sync: {}",
                                std::string(more.status().message())));
  }
  return notes;
}

std::string OpenAddressesAfter(replica::Replica& replica, replica::Acted& acted) {
  std::string sentences;
  // What is in the way is told by the next sync, which tries again.
  const auto opened = replica::OpenAddresses(replica);
  if (!opened.ok()) return sentences;
  for (const replica::OpenedAddress& one : *opened) {
    sentences += " " + AddressSentence(replica, one);
  }
  acted.undelivered = replica.undelivered().size();
  return sentences;
}

}  // namespace broodpact::cli
