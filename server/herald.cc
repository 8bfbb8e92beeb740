#include "server/herald.h"

#include <iterator>
#include <utility>

#include "client/base/status.h"
#include "client/sync/chunk.h"
#include "client/sync/session.h"

namespace broodpact::server {

absl::StatusOr<LogEnd> EndOf(const store::Store& store, std::uint32_t epoch) {
  LogEnd end{.point = store.point(), .epoch = epoch};
  BP_ASSIGN_OR_RETURN(end.tree_root, store.TreeRootAt(end.point.arrivals));
  return end;
}

Herald::Herald(const Surroundings& surroundings, const Hash& cooperative, const LogEnd& end)
    : store_(surroundings.store),
      log_key_(surroundings.log_key),
      clock_(surroundings.clock),
      head_(Signed(cooperative, end)) {
  if (surroundings.pace == Pace::kThreads) thread_ = std::thread([this] { Run(); });
}

Herald::~Herald() {
  Stop();
}

void Herald::Announce(const Hash& cooperative, const LogEnd& end, std::vector<Outcome> outcomes) {
  const std::lock_guard lock(mutex_);
  news_.cooperative = cooperative;
  news_.end = end;
  news_.outcomes.insert(news_.outcomes.end(), std::make_move_iterator(outcomes.begin()),
                        std::make_move_iterator(outcomes.end()));
  has_news_ = true;
  changed_.notify_one();
}

void Herald::Listen(const std::weak_ptr<Listener>& listener) {
  const std::lock_guard lock(mutex_);
  listeners_.push_back(listener);
}

sync::Head Herald::head() const {
  const std::lock_guard lock(mutex_);
  return head_;
}

std::shared_ptr<const Tail> Herald::tail() const {
  const std::lock_guard lock(mutex_);
  return tail_;
}

void Herald::Stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    changed_.notify_one();
  }
  if (thread_.joinable()) thread_.join();
}

void Herald::Run() {
  while (true) {
    News news;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return has_news_ || stopping_; });
      if (!has_news_) return;
      has_news_ = false;
      news = std::exchange(news_, News{});
    }
    Tell(news);
  }
}

void Herald::Work() {
  News news;
  {
    const std::lock_guard lock(mutex_);
    if (!std::exchange(has_news_, false)) return;
    news = std::exchange(news_, News{});
  }
  Tell(news);
}

void Herald::Tell(const News& news) {
  PublishHead(news.cooperative, news.end);
  const sync::Head told = head();
  for (const Outcome& outcome : news.outcomes) {
    if (outcome.status.ok()) {
      outcome.answer(Receipt{.chain_seq = outcome.chain_seq,
                             .fresh = outcome.fresh,
                             .head = told,
                             .verdict = outcome.verdict});
    } else {
      outcome.answer(outcome.status);
    }
  }
  for (const std::shared_ptr<Listener>& listener : PresentListeners()) listener->OnGrown();
}

sync::Head Herald::Signed(const Hash& cooperative, const LogEnd& end) const {
  return sync::SignHead(log_key_, cooperative,
                        {.epoch = end.epoch,
                         .point = end.point,
                         .tree_root = end.tree_root,
                         .time_ms = clock_.NowMillis()});
}

void Herald::PublishHead(const Hash& cooperative, const LogEnd& end) {
  const sync::Head before = head();
  if (before.point == end.point && before.epoch == end.epoch) return;
  std::shared_ptr<const Tail> tail = TailAfter(before.point.arrivals);
  const sync::Head signed_head = Signed(cooperative, end);
  const std::lock_guard lock(mutex_);
  head_ = signed_head;
  tail_ = std::move(tail);
}

std::shared_ptr<const Tail> Herald::TailAfter(std::uint64_t arrivals_before) const {
  const absl::StatusOr<store::LogSlice> slice =
      store_.ReadLog(arrivals_before, sync::kChunkBytesTarget);
  // Without a tail, each stream reads for itself, and meets the error itself.
  if (!slice.ok() || slice->count == 0) return nullptr;
  return std::make_shared<const Tail>(Tail{.arrivals_before = arrivals_before,
                                           .arrivals_after = arrivals_before + slice->count,
                                           .packed = sync::PackRecords(slice->records)});
}

std::vector<std::shared_ptr<Listener>> Herald::PresentListeners() {
  const std::lock_guard lock(mutex_);
  std::vector<std::shared_ptr<Listener>> present;
  present.reserve(listeners_.size());
  std::erase_if(listeners_, [&](const std::weak_ptr<Listener>& listener) {
    std::shared_ptr<Listener> locked = listener.lock();
    if (locked == nullptr) return true;
    present.push_back(std::move(locked));
    return false;
  });
  return present;
}

}  // namespace broodpact::server
