#include "tests/simulation/turns.h"

#include <semaphore>
#include <thread>
#include <utility>

#include "client/base/check.h"

namespace broodpact::simulation {

struct Turn::Rep {
  std::function<void()> work;
  std::binary_semaphore go{0};
  std::binary_semaphore back{0};
  bool begun = false;
  bool ended = false;  // read and written by whoever has the turn
  std::thread thread;
};

Turn::Turn(std::function<void()> work) : rep_(std::make_unique<Rep>()) {
  rep_->work = std::move(work);
}

Turn::~Turn() {
  BP_CHECK(!rep_->begun || rep_->ended);
  if (rep_->thread.joinable()) rep_->thread.join();
}

void Turn::GoOn() {
  BP_CHECK(!rep_->ended);
  if (!rep_->begun) {
    rep_->begun = true;
    rep_->thread = std::thread([rep = rep_.get()] {
      rep->go.acquire();
      rep->work();
      rep->ended = true;
      rep->back.release();
    });
  }
  rep_->go.release();
  rep_->back.acquire();
}

bool Turn::ended() const {
  return rep_->ended;
}

void Turn::Wait() {
  rep_->back.release();
  rep_->go.acquire();
}

}  // namespace broodpact::simulation
