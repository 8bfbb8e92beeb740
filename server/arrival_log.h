#pragma once

// The arrival log: gives every commit its place. One thread writes; all who wait at a moment go
// into one group, with one fold and one fsync, and are answered when it is durable.

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/device/clock.h"
#include "client/replica/ledger.h"
#include "client/store/store.h"
#include "server/door.h"
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

  Herald& herald() { return *herald_; }

  // Takes no more, gives a place to all that waits, and ends.
  void Stop();

 private:
  ArrivalLog(const Surroundings& surroundings, const LogEnd& end);

  // Reads of the store, as a group needs them.
  class Arrivals final : public Known {
   public:
    explicit Arrivals(const store::Store& store) : store_(store) {}
    absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const override;
    absl::StatusOr<Hash> HashAt(const facts::ChainId& chain, std::uint64_t seq) const override;

   private:
    const store::Store& store_;
  };

  // A submission that is in the group, and which of the outcomes is its own.
  struct Place {
    std::size_t outcome = 0;
    std::size_t first_arrival = 0;  // counted from 0, in the group
  };

  void Write();
  std::vector<Submission> AwaitSubmissions();
  std::vector<Submission> TakeSubmissions();  // with mutex_ held
  void WriteGroup(std::vector<Submission> submissions);
  absl::Status Prepare(const Submission& submission);
  absl::Status AppendGroup(const Group& group, const std::vector<Place>& places,
                           std::vector<Outcome>& outcomes);
  void PutBack(std::vector<Submission> submissions);
  std::int64_t NextTime();

  store::Store& store_;
  const device::Clock& clock_;
  const Log& log_;
  Arrivals arrivals_;
  replica::Ledger ledger_;         // of the writing thread
  std::int64_t time_last_ms_ = 0;  // of the writing thread
  LogEnd end_;                     // of the writing thread: of what is durable
  std::unique_ptr<Herald> herald_;

  mutable std::mutex mutex_;  // guards all below
  std::condition_variable changed_;
  std::deque<Submission> waiting_;
  std::size_t waiting_bytes_ = 0;
  Hash cooperative_{};
  bool stopping_ = false;
  std::thread writer_;
};

}  // namespace broodpact::server
