#pragma once

// A group of runs that become one range of the log: one fold, one batch, one fsync for all who
// wait. A run that does not fit fails alone, not its group.
//
// Pure apart from what `Known` reads. Used by one thread.

#include <cstdint>
#include <map>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/range.h"
#include "server/door.h"

namespace broodpact::server {

// Arrivals of one stretch of the log: the store keeps what the log was at the beginning of each.
inline constexpr std::uint64_t kStretchArrivals = 256;

// What has arrived before the group.
class Known {
 public:
  virtual ~Known() = default;
  virtual absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const = 0;
  // The hash of a commit that has arrived.
  virtual absl::StatusOr<Hash> HashAt(const facts::ChainId& chain, std::uint64_t seq) const = 0;
  // What the log was after so many arrivals, at most as many as there are: a multiple of
  // kStretchArrivals, where a log keeps it.
  virtual absl::StatusOr<Hash> LogHashAt(std::uint64_t arrivals) const = 0;
  // What it was after each of the arrivals that follow on `point`, up to arrival `last`: one hash
  // each. Reads them all.
  virtual absl::StatusOr<std::vector<Hash>> LogHashesAfter(const facts::LogPoint& point,
                                                           std::uint64_t last) const = 0;
  // When arrival number `arrival` had its place: 1 to as many as there are.
  virtual absl::StatusOr<std::int64_t> TimeOf(std::uint64_t arrival) const = 0;
  // Whether the log once had so many arrivals and has lost them since, as its epochs say.
  virtual bool HasLost(std::uint64_t arrivals) const = 0;
};

// What the log was at the places that commits have seen.
//
// A commit of a few bytes names any place that it likes, and to know the log there may take 16 MB
// to be read. So the log is read by stretches, each of them once, whatever places of it are named
// and in whatever order, and what was found is kept. A run may still name many stretches; but those
// that weigh much are few, as whoever filled one has paid for it (allowance.h).
//
// Arrivals keep their places, so it outlives groups. Used by one thread.
class SeenPlaces {
 public:
  // `known` outlives this.
  explicit SeenPlaces(const Known& known) : known_(known) {}

  // What the log that is at `end` now was after `arrivals` arrivals, no more than it has.
  // Errors: those of `known`.
  absl::StatusOr<Hash> LogHashAt(std::uint64_t arrivals, const facts::LogPoint& end);

 private:
  const Known& known_;
  // By the arrivals before each: what the log was there, and after every one that has been read.
  std::map<std::uint64_t, std::vector<Hash>> stretches_;
};

enum class Placement {
  kAdded,    // it is in the group, from the first commit on that had not arrived
  kArrived,  // all of it had arrived before
  kLater,    // it overlaps with a run in the group: try again with the next one
};

class Group {
 public:
  // A group that begins at `before`, arriving at `time_ms`. `known`, and `places` of the same log,
  // outlive the group.
  Group(const facts::LogPoint& before, std::int64_t time_ms, const Known& known,
        SeenPlaces& places);

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
  absl::Status CheckSeen(const Run& run, std::size_t first) const;
  absl::StatusOr<bool> IsOfThisLog(const facts::Seen& seen) const;
  // Nobody has arrived before what he has seen: a first time that says so is none, whoever proved
  // it. The server of a log that is gone may have been made up by whoever shows it.
  absl::Status DropTimesBeforeSeen(Run& run, std::size_t first) const;
  void Append(Run& run, std::size_t first);
  // When a commit of a run arrives, and before: a first time that is not earlier says nothing.
  facts::ArrivalTimes TimesAt(const Run& run, std::size_t place) const;

  std::int64_t time_ms_;
  const Known& known_;
  SeenPlaces& places_;
  facts::Range range_;
  std::map<facts::ChainId, facts::ChainHead> heads_;
  std::size_t bytes_ = 0;
};

}  // namespace broodpact::server
