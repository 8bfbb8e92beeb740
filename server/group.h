#pragma once

// A group of runs that become one range of the log: one fold, one batch, one fsync for all who
// wait. A run that does not fit fails alone, not its group.
//
// Pure apart from what `Known` reads. Used by one thread.

#include <cstdint>
#include <map>

#include "absl/status/statusor.h"

#include "client/facts/range.h"
#include "server/door.h"

namespace broodpact::server {

// What has arrived before the group.
class Known {
 public:
  virtual ~Known() = default;
  virtual absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const = 0;
  // The hash of a commit that has arrived.
  virtual absl::StatusOr<Hash> HashAt(const facts::ChainId& chain, std::uint64_t seq) const = 0;
  // What the log was after so many arrivals, at most as many as there are.
  virtual absl::StatusOr<Hash> LogHashAt(std::uint64_t arrivals) const = 0;
  // When arrival number `arrival` had its place: 1 to as many as there are.
  virtual absl::StatusOr<std::int64_t> TimeOf(std::uint64_t arrival) const = 0;
  // Whether the log once had so many arrivals and has lost them since, as its epochs say.
  virtual bool HasLost(std::uint64_t arrivals) const = 0;
};

enum class Placement {
  kAdded,    // it is in the group, from the first commit on that had not arrived
  kArrived,  // all of it had arrived before
  kLater,    // it overlaps with a run in the group: try again with the next one
};

class Group {
 public:
  // A group that begins at `before`, arriving at `time_ms`. `known` outlives the group.
  Group(const facts::LogPoint& before, std::int64_t time_ms, const Known& known);

  // Adds what is new of a run. Commits that have arrived are skipped, if they are the same.
  // Errors: FAILED_PRECONDITION with reason CHAIN_HOLE or CHAIN_FORK, or of a log that never was:
  // SEEN_AHEAD (more arrivals than there are) or SEEN_OTHER (others), but for what was lost; those
  // of `known`. The group is as it was then. `run` is moved from only if it was added.
  absl::StatusOr<Placement> Add(Run& run);

  const facts::Range& range() const { return range_; }
  // The heads of the chains in the group, after it.
  const std::map<facts::ChainId, facts::ChainHead>& heads() const { return heads_; }
  std::size_t bytes() const { return bytes_; }

 private:
  absl::StatusOr<std::size_t> CommitsArrived(const Run& run, const facts::ChainHead& head) const;
  absl::Status CheckSeen(const Run& run, std::size_t first);
  absl::StatusOr<bool> IsOfThisLog(const facts::Seen& seen);
  // Nobody has arrived before what he has seen: a first time that says so is none, whoever proved
  // it. The server of a log that is gone may have been made up by whoever shows it.
  absl::Status DropTimesBeforeSeen(Run& run, std::size_t first);
  void Append(Run& run, std::size_t first);
  // When a commit of a run arrives, and before: a first time that is not earlier says nothing.
  facts::ArrivalTimes TimesAt(const Run& run, std::size_t place) const;

  std::int64_t time_ms_;
  const Known& known_;
  facts::Range range_;
  std::map<facts::ChainId, facts::ChainHead> heads_;
  std::size_t bytes_ = 0;
  facts::Seen seen_{};  // of this log: commits that are written one after the other see the same
};

}  // namespace broodpact::server
