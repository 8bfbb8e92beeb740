#pragma once

// Calls that block, one at a time: each runs on a thread of its own, but only while the scheduler
// waits for it. Who goes on when is the scheduler's decision alone, so it repeats.

#include <functional>
#include <memory>

namespace broodpact::simulation {

class Turn {
 public:
  // `work` begins at the first GoOn.
  explicit Turn(std::function<void()> work);
  // It has ended, or has not begun.
  ~Turn();
  Turn(const Turn&) = delete;
  Turn& operator=(const Turn&) = delete;

  // From the scheduler: lets it go on, until it waits or ends. Not after its end.
  void GoOn();
  bool ended() const;

  // From within: gives the turn back, and returns when it is its turn again.
  void Wait();

 private:
  struct Rep;
  std::unique_ptr<Rep> rep_;
};

}  // namespace broodpact::simulation
