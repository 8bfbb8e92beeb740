#pragma once

// One sync with a server: pushes what is undelivered, pulls what is missing, and stays on as the
// live feed if asked to.

#include <cstdint>
#include <functional>
#include <optional>
#include <stop_token>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/range.h"
#include "client/sync/connection.h"
#include "client/sync/epoch.h"
#include "client/sync/head.h"

namespace broodpact::sync {

// Bounds of what one side may send at once.
inline constexpr std::size_t kPushBytesMax = 262'144;
inline constexpr std::size_t kPushCommitsMax = 1'024;
inline constexpr std::size_t kChunkBytesMax = 4'194'304;   // unpacked
inline constexpr std::size_t kChunkBytesTarget = 262'144;  // unpacked
// How much of the log a client holds before it checks and stores it as one range: many commits, so
// that one signature a chain vouches for a long run (DEVELOPERS.md, "One signature a run").
inline constexpr std::size_t kRangeCommitsMax = 25'000;
inline constexpr std::size_t kRangeBytesMax = 16'777'216;

// The replica, as a session needs it. All calls come from one thread, except that `point` is asked
// for once before any other.
class Target {
 public:
  virtual ~Target() = default;

  virtual Hash cooperative() const = 0;
  virtual std::uint32_t incarnation() const = 0;
  // Whose chain is pushed; nothing: the caller's own.
  virtual std::optional<DeviceId> device() const { return std::nullopt; }
  // The end of this replica's log.
  virtual facts::LogPoint point() const = 0;

  // Checks and folds a range that begins where the last one ended, and stores it by the end of the
  // session at the latest.
  virtual absl::Status Apply(facts::Range range) = 0;

  // Own commits that have not arrived, after `server_head`, in order; at most kPushCommitsMax and
  // kPushBytesMax. Empty: no more.
  // Errors: FAILED_PRECONDITION with reason CHAIN_FORK if `server_head` is not on the own chain.
  virtual absl::StatusOr<std::vector<facts::SignedCommit>> Undelivered(
      const facts::ChainHead& server_head) = 0;

  // A head that the server signed for this log; its signature has been checked. What it covers has
  // been applied.
  virtual absl::Status KeepHead(const Head& head) = 0;

  // Any head that the server signed, as soon as it is heard; its signature has been checked. It may
  // be of more arrivals than this replica has, or of others: a target that holds the server to what
  // it signs remembers it.
  virtual absl::Status HearHead(const Head& /*head*/) { return absl::OkStatus(); }

  // What the server says of its losses, before any of its heads is heard; signatures have been
  // checked. A target that holds the server to its heads keeps it.
  virtual absl::Status HearEpochs(const Epochs& /*epochs*/) { return absl::OkStatus(); }

  // The place of the server's newest snapshot, before anything is applied. A target whose log comes
  // to that place can tell whether it has the same state there.
  virtual absl::Status HearSnapshot(const facts::LogPoint& /*snapshot*/) {
    return absl::OkStatus();
  }

  // The head that was kept last. The server is asked to prove that its log has only grown since.
  virtual std::optional<Head> LastHead() const { return std::nullopt; }
};

enum class Mode { kOnce, kFollow };

// What a session has done so far.
struct Progress {
  std::uint64_t commits_sent = 0;
  std::uint64_t commits_received = 0;
  std::uint64_t arrivals = 0;         // of this replica
  std::uint64_t arrivals_server = 0;  // of the server, as last heard
  std::int64_t server_ahead_ms = 0;   // the server's clock less Options::now_ms, as it greeted
};

struct Options {
  Mode mode = Mode::kOnce;
  std::int64_t now_ms = 0;                           // for the certificate's dates, and the clock
  std::function<void(const Progress&)> on_progress;  // may be empty; called after each step
  std::stop_token stop{};                            // ends a session that follows
};

// Runs a session. kOnce returns when all own commits have arrived and the log is whole up to the
// server's head at that time. kFollow goes on until `stop`, and then returns OK.
//
// Errors: those of SyncService.Sync as the server sent them, SERVER_AWAY, those of Target, and
// PERMISSION_DENIED with reason HEAD_SIGNATURE_BAD, DATA_LOSS with reason LOG_OTHER (the server
// tells another history) or PROOF_WRONG (it does not prove that its log has only grown). What was
// applied until then stays.
absl::StatusOr<Progress> RunSession(const Credentials& credentials, Target& target,
                                    const Options& options);

}  // namespace broodpact::sync
