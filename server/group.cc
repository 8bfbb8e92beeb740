#include "server/group.h"

#include <algorithm>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"

namespace broodpact::server {
namespace {

// Stretches that are kept: 8 MB of hashes. Beyond them all are forgotten, and read anew when they
// are asked for.
constexpr std::size_t kStretchesMax = 1'024;

}  // namespace

absl::StatusOr<Hash> SeenPlaces::LogHashAt(std::uint64_t arrivals, const facts::LogPoint& end) {
  // Whoever writes while he follows the log has seen all of it.
  if (arrivals == end.arrivals) return end.log_hash;
  const std::uint64_t before = arrivals - arrivals % kStretchArrivals;
  if (stretches_.size() >= kStretchesMax && !stretches_.contains(before)) stretches_.clear();
  std::vector<Hash>& hashes = stretches_[before];
  if (hashes.empty()) {
    BP_ASSIGN_OR_RETURN(const Hash at_its_beginning, known_.LogHashAt(before));
    hashes.push_back(at_its_beginning);
  }
  const auto place = static_cast<std::size_t>(arrivals - before);
  if (place >= hashes.size()) {
    // Of the stretch in which the log ends, what has arrived since it was read last.
    const facts::LogPoint read{.arrivals = before + hashes.size() - 1, .log_hash = hashes.back()};
    const std::uint64_t last = std::min(end.arrivals, before + kStretchArrivals - 1);
    BP_ASSIGN_OR_RETURN(const std::vector<Hash> more, known_.LogHashesAfter(read, last));
    hashes.insert(hashes.end(), more.begin(), more.end());
  }
  BP_CHECK(place < hashes.size());
  return hashes[place];
}

Group::Group(const facts::LogPoint& before, std::int64_t time_ms, const Known& known,
             SeenPlaces& places)
    : time_ms_(time_ms), known_(known), places_(places) {
  range_.before = before;
  range_.after = before;
}

absl::StatusOr<Placement> Group::Add(Run& run) {
  const auto present = heads_.find(run.chain);
  if (present != heads_.end()) {
    if (run.commits.front().header.seq <= present->second.seq) return Placement::kLater;
    BP_RETURN_IF_ERROR(facts::CheckFollows(present->second, run.commits.front()));
    BP_RETURN_IF_ERROR(CheckSeen(run, 0));
    BP_RETURN_IF_ERROR(DropTimesBeforeSeen(run, 0));
    Append(run, 0);
    return Placement::kAdded;
  }
  BP_ASSIGN_OR_RETURN(const facts::ChainHead head, known_.HeadOf(run.chain));
  BP_ASSIGN_OR_RETURN(const std::size_t arrived, CommitsArrived(run, head));
  if (arrived == run.commits.size()) return Placement::kArrived;
  BP_RETURN_IF_ERROR(facts::CheckFollows(head, run.commits[arrived]));
  BP_RETURN_IF_ERROR(CheckSeen(run, arrived));
  BP_RETURN_IF_ERROR(DropTimesBeforeSeen(run, arrived));
  Append(run, arrived);
  return Placement::kAdded;
}

// How many of the run's commits stand in the log already.
absl::StatusOr<std::size_t> Group::CommitsArrived(const Run& run,
                                                  const facts::ChainHead& head) const {
  const std::uint64_t first_seq = run.commits.front().header.seq;
  if (first_seq > head.seq) return 0;
  const std::size_t count = static_cast<std::size_t>(
      std::min<std::uint64_t>(head.seq - first_seq + 1, run.commits.size()));
  // The run is a chain: if its last commit that overlaps is the same, so are all before it.
  const facts::Commit& last = run.commits[count - 1];
  Hash standing = head.hash;
  if (last.header.seq < head.seq) {
    BP_ASSIGN_OR_RETURN(standing, known_.HashAt(run.chain, last.header.seq));
  }
  if (last.hash == standing) return count;
  return Fail(absl::StatusCode::kFailedPrecondition, "CHAIN_FORK",
              fmt::format("another commit of this device stands at {} already: its key or its "
                          "replica was copied",
                          last.header.seq));
}

// Nobody has seen more of the log than is durable, or another one, but for what has been lost of
// it: everybody would doubt this server for it.
absl::Status Group::CheckSeen(const Run& run, std::size_t first) const {
  for (std::size_t i = first; i < run.commits.size(); ++i) {
    const facts::CommitHeader& header = run.commits[i].header;
    BP_ASSIGN_OR_RETURN(const bool ours, IsOfThisLog(header.seen));
    const std::uint64_t seen = header.seen.arrivals;
    if (ours || known_.HasLost(seen)) continue;
    const std::string whose =
        fmt::format("commit {} of device {}", header.seq, ToShortText(header.device));
    if (seen > range_.before.arrivals) {
      return Fail(absl::StatusCode::kFailedPrecondition, "SEEN_AHEAD",
                  fmt::format("{} says it has seen {} arrivals, and this log has {}; nothing of it "
                              "was taken, sync again",
                              whose, seen, range_.before.arrivals));
    }
    return Fail(absl::StatusCode::kFailedPrecondition, "SEEN_OTHER",
                fmt::format("{} says it has seen another log than this one, of {} arrivals; "
                            "nothing of it was taken, sync again, and if that does not help, "
                            "compare `broodpact heads` with other keepers",
                            whose, seen));
  }
  return absl::OkStatus();
}

absl::StatusOr<bool> Group::IsOfThisLog(const facts::Seen& seen) const {
  if (seen.arrivals == 0) return true;
  if (seen.arrivals > range_.before.arrivals) return false;
  BP_ASSIGN_OR_RETURN(const Hash log_hash, places_.LogHashAt(seen.arrivals, range_.before));
  return seen == facts::SeenOf(seen.arrivals, log_hash);
}

absl::Status Group::DropTimesBeforeSeen(Run& run, std::size_t first) const {
  const std::size_t count = std::min(run.commits.size(), run.first_times_ms.size());
  for (std::size_t i = first; i < count; ++i) {
    std::optional<std::int64_t>& time_ms = run.first_times_ms[i];
    const facts::Seen& seen = run.commits[i].header.seen;
    if (!time_ms || seen.arrivals == 0) continue;
    // Of a log that is lost too, nothing is known here.
    BP_ASSIGN_OR_RETURN(const bool ours, IsOfThisLog(seen));
    if (!ours) continue;
    BP_ASSIGN_OR_RETURN(const std::int64_t seen_ms, known_.TimeOf(seen.arrivals));
    if (*time_ms < seen_ms) time_ms.reset();
  }
  return absl::OkStatus();
}

facts::ArrivalTimes Group::TimesAt(const Run& run, std::size_t place) const {
  facts::ArrivalTimes times{.time_ms = time_ms_};
  if (place >= run.first_times_ms.size()) return times;
  const std::optional<std::int64_t>& first = run.first_times_ms[place];
  if (first && *first >= 0 && *first < time_ms_) times.first_time_ms = first;
  return times;
}

void Group::Append(Run& run, std::size_t first) {
  for (std::size_t i = first; i < run.commits.size(); ++i) {
    facts::Commit& commit = run.commits[i];
    const facts::ArrivalTimes times = TimesAt(run, i);
    range_.after.log_hash = facts::NextLogHash(range_.after.log_hash, commit.hash, times);
    ++range_.after.arrivals;
    heads_[run.chain] = facts::HeadAfter(commit);
    bytes_ += run.bytes[i].size();
    range_.arrivals.push_back({.commit = std::move(commit),
                               .arrival = range_.after.arrivals,
                               .time_ms = times.time_ms,
                               .first_time_ms = times.first_time_ms});
    range_.bytes.push_back(std::move(run.bytes[i]));
    range_.signatures.emplace_back();
    range_.log_hashes.push_back(range_.after.log_hash);
  }
  range_.signatures.back() = run.signature;
}

}  // namespace broodpact::server
