#pragma once

// A log that the server has lost, as a bundle shows it: kept until the server has been shown it.
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
  // Where it parts from the log that was here when it was read; nothing where that was not shown.
  std::optional<facts::LogPoint> common{};
  std::string tree{};  // of it up to there: MerkleFrontier::Encode
  std::string
      records{};  // facts/arrival.h: what follows up to the head; empty where it is not whole

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

  // Without records where those that came do not lead to the head.
  // Errors: those of the store.
  absl::StatusOr<LostLog> Finish();

 private:
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

// Keeps it, unless the server has told that it lost so much and there are no records, or one that
// reaches farther is kept.
absl::Status KeepLostLog(store::Store& database, const LostLog& lost);
absl::StatusOr<std::optional<LostLog>> ReadLostLog(const store::Store& database);

// Shows the server the one that is kept, keeps the epochs that it tells then, and lets what it had
// arrive again. One that the server does not take is kept no longer. Returns how many commits have
// arrived by that.
// Errors: UNAVAILABLE, as the server's; those of the store.
absl::StatusOr<std::uint64_t> ShowLostLog(store::Store& database, sync::Recovery& server);

}  // namespace broodpact::replica
