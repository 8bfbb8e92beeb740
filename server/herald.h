#pragma once

// Tells the news of the arrival log: signs its head once for all, answers those who waited for
// durability, wakes the live streams. A thread of its own, so that the one that writes goes on to
// the next group at once.

#include <condition_variable>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/signature.h"
#include "client/device/clock.h"
#include "client/facts/epoch.h"
#include "client/registry/verdict.h"
#include "client/store/store.h"
#include "client/sync/head.h"

namespace broodpact::server {

// A run is durable.
struct Receipt {
  std::uint64_t chain_seq = 0;  // up to here
  std::uint32_t fresh = 0;      // of its commits, those that had not arrived before
  sync::Head head;              // of the log, with it
  registry::Verdict verdict;    // of the first commit of the run that was new
};

using Answer = std::function<void(const absl::StatusOr<Receipt>&)>;

// What became of a submission.
struct Outcome {
  Answer answer;
  absl::Status status;
  std::uint64_t chain_seq = 0;
  std::uint32_t fresh = 0;
  registry::Verdict verdict;
};

// Where a log ends, the root of its tree there, and in which epoch that is.
struct LogEnd {
  facts::LogPoint point;
  Hash tree_root{};
  std::uint32_t epoch = facts::kFirstEpoch;
};

// The end of a store's log, in `epoch`.
// Errors: those of Store::TreeRootAt.
absl::StatusOr<LogEnd> EndOf(const store::Store& store, std::uint32_t epoch = facts::kFirstEpoch);

// The newest part of the log, packed once for all streams that have everything before it.
struct Tail {
  std::uint64_t arrivals_before = 0;
  std::uint64_t arrivals_after = 0;
  std::string packed;
};

// Who does the work: threads of its own, or whoever calls Work, in the order in which a simulation
// wants it.
enum class Pace { kThreads, kByHand };

// Who wants to know when the log has grown. Called on the herald's thread; must not block.
class Listener {
 public:
  virtual ~Listener() = default;
  virtual void OnGrown() = 0;
};

// Thread-safe.
class Herald {
 public:
  // What the herald works with; all of it outlives the herald.
  struct Surroundings {
    const store::Store& store;
    const Signer& log_key;
    const device::Clock& clock;
    Pace pace = Pace::kThreads;
  };

  // Begins with the log of `cooperative` as it is in the store, whose end is `end`.
  Herald(const Surroundings& surroundings, const Hash& cooperative, const LogEnd& end);
  ~Herald();
  Herald(const Herald&) = delete;
  Herald& operator=(const Herald&) = delete;

  // The log of `cooperative` is durable up to `end`, and these are answered.
  void Announce(const Hash& cooperative, const LogEnd& end, std::vector<Outcome> outcomes);

  // From now on, until it is gone.
  void Listen(const std::weak_ptr<Listener>& listener);

  // The end of the log as it was announced last.
  sync::Head head() const;
  // May be null.
  std::shared_ptr<const Tail> tail() const;

  // With Pace::kByHand: tells what has been announced, on this thread.
  void Work();

  // Tells what has been announced, and ends.
  void Stop();

 private:
  struct News {
    Hash cooperative{};
    LogEnd end;
    std::vector<Outcome> outcomes;
  };

  void Run();
  void Tell(const News& news);
  void PublishHead(const Hash& cooperative, const LogEnd& end);
  sync::Head Signed(const Hash& cooperative, const LogEnd& end) const;
  std::shared_ptr<const Tail> TailAfter(std::uint64_t arrivals_before) const;
  std::vector<std::shared_ptr<Listener>> PresentListeners();

  const store::Store& store_;
  const Signer& log_key_;
  const device::Clock& clock_;
  mutable std::mutex mutex_;  // guards all below
  std::condition_variable changed_;
  News news_;
  bool has_news_ = false;
  bool stopping_ = false;
  sync::Head head_;
  std::shared_ptr<const Tail> tail_;
  std::vector<std::weak_ptr<Listener>> listeners_;
  std::thread thread_;
};

}  // namespace broodpact::server
