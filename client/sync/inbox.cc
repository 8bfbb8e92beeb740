#include "client/sync/inbox.h"

#include <iterator>
#include <utility>

#include "client/sync/session.h"

namespace broodpact::sync {
namespace {

bool Fits(const Received& first, const Received& second) {
  return first.range.arrivals.size() + second.range.arrivals.size() <= kRangeCommitsMax &&
         first.bytes + second.bytes <= kRangeBytesMax;
}

template <typename Element>
void MoveOnto(std::vector<Element>& onto, std::vector<Element>& from) {
  onto.insert(onto.end(), std::make_move_iterator(from.begin()),
              std::make_move_iterator(from.end()));
}

void Join(Received& first, Received second) {
  first.range.after = second.range.after;
  MoveOnto(first.range.arrivals, second.range.arrivals);
  MoveOnto(first.range.bytes, second.range.bytes);
  MoveOnto(first.range.signatures, second.range.signatures);
  MoveOnto(first.range.log_hashes, second.range.log_hashes);
  first.bytes += second.bytes;
  first.head = second.head;
}

}  // namespace

void Inbox::PutEpochs(Epochs epochs) {
  const std::lock_guard lock(mutex_);
  small_.epochs = std::move(epochs);
  changed_.notify_all();
}

void Inbox::PutWelcome(const ServerState& server) {
  const std::lock_guard lock(mutex_);
  small_.welcome = server;
  changed_.notify_all();
}

void Inbox::PutReceipt(const Receipt& receipt) {
  const std::lock_guard lock(mutex_);
  small_.receipt = receipt;
  changed_.notify_all();
}

void Inbox::PutHead(const Head& head) {
  const std::lock_guard lock(mutex_);
  if (small_.heard.size() >= kHeadsWaitingMax) small_.heard.erase(small_.heard.begin());
  small_.heard.push_back(head);
  changed_.notify_all();
}

bool Inbox::Put(Received received) {
  std::unique_lock lock(mutex_);
  if (!ranges_.empty() && Fits(ranges_.back(), received)) {
    Join(ranges_.back(), std::move(received));
  } else {
    changed_.wait(lock, [this] { return closed_ || ranges_.size() < kRangesWaitingMax; });
    if (!closed_) ranges_.push_back(std::move(received));
  }
  changed_.notify_all();
  return !closed_;
}

void Inbox::PutEnd(const absl::Status& status) {
  const std::lock_guard lock(mutex_);
  end_ = status;
  changed_.notify_all();
}

bool Inbox::HasNews() {
  const std::lock_guard lock(mutex_);
  return HasNewsLocked();
}

bool Inbox::HasNewsLocked() const {
  return small_.epochs.has_value() || small_.welcome.has_value() || small_.receipt.has_value() ||
         !small_.heard.empty() || !ranges_.empty() || end_.has_value();
}

News Inbox::Take() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return HasNewsLocked(); });
  News news = std::exchange(small_, News{});
  if (!ranges_.empty()) {
    news.received = std::move(ranges_.front());
    ranges_.pop_front();
  } else {
    news.end = end_;
  }
  changed_.notify_all();
  return news;
}

void Inbox::Close() {
  const std::lock_guard lock(mutex_);
  closed_ = true;
  changed_.notify_all();
}

bool Inbox::AwaitEnd(std::chrono::milliseconds patience) {
  std::unique_lock lock(mutex_);
  return changed_.wait_for(lock, patience, [this] { return end_.has_value(); });
}

}  // namespace broodpact::sync
