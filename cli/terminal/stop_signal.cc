#include "cli/terminal/stop_signal.h"

#include <ctime>

namespace broodpact::cli {
namespace {

constexpr long kPollNanos = 200'000'000;

sigset_t StopSignals() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  return set;
}

}  // namespace

BlockedSignals::BlockedSignals() {
  const sigset_t set = StopSignals();
  pthread_sigmask(SIG_BLOCK, &set, &before_);
}

BlockedSignals::~BlockedSignals() {
  pthread_sigmask(SIG_SETMASK, &before_, nullptr);
}

StopOnSignal::StopOnSignal()
    : waiter_([this](const std::stop_token& done) {
        const sigset_t set = StopSignals();
        const timespec poll{.tv_sec = 0, .tv_nsec = kPollNanos};
        while (!done.stop_requested()) {
          if (sigtimedwait(&set, nullptr, &poll) > 0) {
            stop_.request_stop();
            return;
          }
        }
      }) {}

}  // namespace broodpact::cli
