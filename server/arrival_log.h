#pragma once

// The arrival log: gives every commit its place. One thread writes; all who wait at a moment go
// into one group, with one fold and one fsync, and are answered when it is durable.

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/device/clock.h"
#include "client/replica/ledger.h"
#include "client/store/store.h"
#include "client/sync/epoch.h"
#include "server/door.h"
#include "server/epochs.h"
#include "server/group.h"
#include "server/herald.h"
#include "server/log.h"

namespace broodpact::server {

// Bounds of one group, and of all that waits for one.
inline constexpr std::size_t kGroupBytesMax = 4'194'304;
inline constexpr std::size_t kWaitingBytesMax = 67'108'864;

// A run that wants its place.
struct Submission {
  Run run;
  // Values to be stored before it.
  std::map<std::string, std::string> meta;
  // Whether this is the founding commit of the cooperative that takes the server.
  bool founds = false;
  // Called once, on the herald's thread or on the caller's.
  // Errors: FAILED_PRECONDITION with reason CHAIN_HOLE or CHAIN_FORK; ALREADY_EXISTS with reason
  // SERVER_TAKEN; RESOURCE_EXHAUSTED with reason SERVER_BUSY or DISK_FULL; UNAVAILABLE with reason
  // STOPPING; those of the store.
  Answer answer;
};

// Thread-safe.
class ArrivalLog {
 public:
  // What the log works with; all of it outlives the log.
  struct Surroundings {
    store::Store& store;
    const Signer& log_key;
    const device::Clock& clock;
    const Log& log;
    Pace pace = Pace::kThreads;
    // Called on the thread that writes after each group that is durable, before the next one; may
    // be empty.
    std::function<void()> on_written{};
  };

  // Errors: those of the store.
  static absl::StatusOr<std::unique_ptr<ArrivalLog>> Start(const Surroundings& surroundings);
  ~ArrivalLog();
  ArrivalLog(const ArrivalLog&) = delete;
  ArrivalLog& operator=(const ArrivalLog&) = delete;

  // Zeros while nobody has claimed the server.
  Hash cooperative() const;
  // Whether the log has its founding commit.
  bool claimed() const { return store_.point().arrivals > 0; }

  // Does not block. Do not call it with a lock that the answer takes.
  void Submit(Submission submission);

  // With Pace::kByHand: gives their places to those who wait, as one group, and tells them, on this
  // thread. False if nobody waited.
  bool Work();

  // Puts arrivals that were lost back at their places, with their times; durable when it returns.
  // `range` has been checked to be of this log, but for the commits themselves. Blocks.
  // Errors: ABORTED with reason LOG_MOVED (the log does not end where the range begins, any more);
  // those of replica::Ledger::Append; UNAVAILABLE with reason STOPPING.
  absl::Status TakeBack(const facts::Range& range);

  // Notes that `lost`, a head of this server, is of a log that it has not: begins a new epoch,
  // which has `common` in common with it; durable when it returns. An epoch that says so already is
  // enough. Blocks.
  // Errors: those of the store; UNAVAILABLE with reason STOPPING.
  absl::Status NoteLoss(const sync::Head& lost, const facts::LogPoint& common);

  // Notes the key of a server that members may come from: a registrar has shown a head of it.
  // Blocks. Errors: as NoteLoss.
  absl::Status NoteLeft(const PublicKey& log_key);

  // Keeps that a device took the place of another one, before the log has it (rotations.h). Blocks.
  // Errors: those of KeepRotation and NoteLoss.
  absl::Status NoteRotation(const DeviceId& from, const DeviceId& to);

  // Takes back epochs of its own that this log has forgotten; durable when it returns. Blocks.
  // Errors: as NoteLoss.
  absl::Status RememberEpochs(const sync::Epochs& told);

  // Tells itself, from now on, of losses that servers before this one told of: what its log took
  // over from them has seen what was lost there. Durable when it returns. Blocks.
  // Errors: as NoteLoss.
  absl::Status InheritEpochs(const sync::Epochs& told);

  // Makes this empty log the one of `cooperative`, in place of the server that signed
  // `predecessor`, in a new epoch, and stores `meta`; durable when it returns. Blocks. Once it has
  // arrivals, the same again changes nothing; before that the newest stands.
  // Errors: ALREADY_EXISTS with reason SERVER_TAKEN; those of NoteLoss.
  absl::Status Succeed(const Hash& cooperative, const sync::Head& predecessor,
                       const std::map<std::string, std::string>& meta);

  // Whether arrivals may be put at their places because the head says so: this log's server has
  // signed it, or the one whose place it took had by then.
  bool MayFill(const sync::Head& head) const;
  // Whether that is the key of this log's server, or of the one whose place it took.
  bool IsOurServer(const PublicKey& log_key) const;

  // What this log was after `arrivals` arrivals, signed now.
  // Errors: those of Store::LogHashAt and TreeRootAt.
  absl::StatusOr<sync::Head> HeadAt(std::uint64_t arrivals) const;

  // The epochs so far that began with a loss.
  sync::Epochs epochs() const;
  // Grows with every change of them; read before them.
  std::uint64_t epochs_changes() const { return epochs_changes_.load(std::memory_order_acquire); }

  // Submits all, with answers of its own, and waits until all are answered; in their order.
  std::vector<absl::StatusOr<Receipt>> Await(std::vector<Submission> submissions);

  Herald& herald() { return *herald_; }

  // Takes no more, gives a place to all that waits, and ends.
  void Stop();

 private:
  ArrivalLog(const Surroundings& surroundings, const LogEnd& end, sync::Epochs epochs);

  // Reads of the store, as a group needs them.
  class Arrivals final : public Known {
   public:
    explicit Arrivals(const ArrivalLog& log) : log_(log) {}
    absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const override;
    absl::StatusOr<Hash> HashAt(const facts::ChainId& chain, std::uint64_t seq) const override;
    absl::StatusOr<Hash> LogHashAt(std::uint64_t arrivals) const override;
    absl::StatusOr<std::vector<Hash>> LogHashesAfter(const facts::LogPoint& point,
                                                     std::uint64_t last) const override;
    absl::StatusOr<std::int64_t> TimeOf(std::uint64_t arrival) const override;
    bool HasLost(std::uint64_t arrivals) const override;

   private:
    const ArrivalLog& log_;
  };

  // A submission that is in the group, and which of the outcomes is its own.
  struct Place {
    std::size_t outcome = 0;
    std::size_t first_arrival = 0;  // counted from 0, in the group
  };

  // Runs `errand` where the log is written, between two groups, and waits until the head that
  // follows from it is out.
  absl::Status Do(const std::function<absl::Status()>& errand);
  void RunErrands();

  void Write();
  std::vector<Submission> AwaitSubmissions();
  std::vector<Submission> TakeSubmissions();  // with mutex_ held
  void WriteGroup(std::vector<Submission> submissions);
  absl::Status Prepare(const Submission& submission);
  absl::Status AppendGroup(const Group& group, const std::vector<Place>& places,
                           std::vector<Outcome>& outcomes);
  void PutBack(std::vector<Submission> submissions);
  std::int64_t NextTime();
  absl::Status SetEpochs(const sync::Epochs& epochs);

  store::Store& store_;
  const device::Clock& clock_;
  const Log& log_;
  const Signer& log_key_;
  const Pace pace_;
  const std::function<void()> on_written_;
  Arrivals arrivals_;
  SeenPlaces seen_places_;         // of the writing thread
  replica::Ledger ledger_;         // of the writing thread
  std::int64_t time_last_ms_ = 0;  // of the writing thread
  LogEnd end_;                     // of the writing thread: of what is durable
  std::unique_ptr<Herald> herald_;

  std::atomic<std::uint64_t> epochs_changes_{0};

  mutable std::mutex mutex_;  // guards all below
  std::condition_variable changed_;
  std::deque<Submission> waiting_;
  std::size_t waiting_bytes_ = 0;
  std::deque<std::function<void()>> errands_;
  sync::Epochs epochs_;
  std::optional<Predecessor> predecessor_;
  Hash cooperative_{};
  bool stopping_ = false;
  std::thread writer_;
};

}  // namespace broodpact::server
