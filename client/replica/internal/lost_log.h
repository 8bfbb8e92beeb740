#pragma once

// A log that a server has lost, or is to say whether it has, as a bundle shows it: kept until the
// server has been shown it.
// What commits have seen of it is then known to have been there, and what it had arrives with the
// times of its first arrival, whoever brings it.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/merkle.h"
#include "client/facts/arrival.h"
#include "client/store/store.h"
#include "client/sync/bundle.h"
#include "client/sync/first_times.h"
#include "client/sync/head.h"
#include "client/sync/recovery.h"

namespace broodpact::replica {

// Records of one that are kept at most; of a longer one its head is kept alone, and what it had
// arrives as new.
inline constexpr std::size_t kLostLogBytesMax = 8'388'608;

struct LostLog {
  sync::Head head;
  // Where it parts from the log that was here when it was read; nothing where that was not proved.
  std::optional<facts::LogPoint> common{};
  // Of it up to there: MerkleFrontier::Encode.
  std::string tree{};
  // What follows up to the head (facts/arrival.h); empty where it is not here as a whole.
  std::string records{};

  friend bool operator==(const LostLog&, const LostLog&) = default;
};

// Finds in the log of a bundle where it parts from the one here, and gathers what follows.
class LostLogIntake {
 public:
  // `head` is signed by a server of this cooperative. `database` outlives this.
  LostLogIntake(const store::Store& database, const sync::Head& head)
      : store_(database), lost_{.head = head} {}

  // The log's blocks in their order. Errors: those of facts::ArrivalReader and of the store.
  absl::Status Add(const sync::BundleLog& log);

  // The head alone where what came does not lead to it; without records where they are too many.
  // Errors: those of the store.
  absl::StatusOr<LostLog> Finish();

 private:
  // Where a block that follows at `at_` ends, or the head does, if that comes first.
  absl::StatusOr<facts::LogPoint> EndOf(const sync::BundleLog& log) const;
  absl::Status Part(const facts::LogPoint& common);

  const store::Store& store_;
  LostLog lost_;
  std::optional<facts::LogPoint> at_;   // of the bundle's log
  std::optional<MerkleFrontier> tree_;  // of the bundle's log, from where they part on
};

// A part of a lost log, with the proof of when it first arrived.
struct ProvenPart {
  sync::LogPart part{};
  sync::FirstTimes times;
};

// All of the records, in parts of about `bytes_target`. None for one that is damaged.
std::vector<ProvenPart> ProvenPartsOf(const LostLog& lost, std::size_t bytes_target);

// Lost logs that are kept at most.
inline constexpr std::size_t kLostLogsMax = 4;

// Keeps it, durably, unless it is the log here, or one of the same server's that reaches as far is
// kept, or the server has told that it lost so much and there are no records.
// Errors: RESOURCE_EXHAUSTED with reason MAIL_FULL (kLostLogsMax are kept); those of the store.
absl::Status KeepLostLog(store::Store& database, const LostLog& lost);
absl::StatusOr<std::vector<LostLog>> ReadLostLogs(const store::Store& database);

// What came of showing them.
struct Showing {
  std::uint64_t arrived = 0;  // commits that have arrived by it
  bool waits = false;         // the server does not believe one of them yet
};

// Shows the server those that are kept, keeps the epochs that it tells then, and lets what they had
// arrive again. What was shown is kept no longer, nor what the server refuses for good, nor what
// the log here has come to since; what it cannot take now is shown again the next time, and what
// they had is not to be delivered before that: it would arrive as new. Errors: those of
// sync::Recovery that may be others the next time; those of the store.
absl::StatusOr<Showing> ShowLostLogs(store::Store& database, sync::Recovery& server);

}  // namespace broodpact::replica
