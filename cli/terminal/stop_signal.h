#pragma once

// Ctrl-C and SIGTERM as a request to stop, for the one command that runs until it is told to end.
// All other commands simply die of them: what is recorded is recorded, and a run that was cut off
// goes on at the next.

#include <stop_token>
#include <thread>

#include <signal.h>

namespace broodpact::cli {

// Blocks SIGINT and SIGTERM for this thread and those that it starts from now on. Made before
// anything that starts threads, so that none of them takes the signal.
class BlockedSignals {
 public:
  BlockedSignals();
  ~BlockedSignals();
  BlockedSignals(const BlockedSignals&) = delete;
  BlockedSignals& operator=(const BlockedSignals&) = delete;

 private:
  sigset_t before_{};
};

// Waits for a blocked signal in a thread of its own, and requests the stop then.
class StopOnSignal {
 public:
  StopOnSignal();
  ~StopOnSignal() = default;
  StopOnSignal(const StopOnSignal&) = delete;
  StopOnSignal& operator=(const StopOnSignal&) = delete;

  std::stop_token token() const { return stop_.get_token(); }

 private:
  std::stop_source stop_;
  std::jthread waiter_;  // ends within a fifth of a second of being told to
};

}  // namespace broodpact::cli
