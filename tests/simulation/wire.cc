#include "tests/simulation/wire.h"

#include <limits>
#include <utility>

#include "client/base/status.h"

namespace broodpact::simulation {
namespace {

absl::Status AwayError() {
  return Fail(absl::StatusCode::kUnavailable, "SERVER_AWAY", "the connection broke; sync again");
}

}  // namespace

void Wire::Accept(const server::SyncService::Surroundings& surroundings) {
  stream_ = server::SyncStream::Open(surroundings, *this);
}

absl::StatusOr<server::Caller> Wire::Who(const server::Callers& callers) const {
  absl::StatusOr<server::Caller> caller = callers.Member(caller_);
  if (caller.ok()) caller->until_ms = std::numeric_limits<std::int64_t>::max();
  return caller;
}

void Wire::Write(const v1::SyncResponse& response, server::Urgency /*urgency*/) {
  writing_ = true;
  if (response.has_head()) told_.push_back(response.head());
  if (response.has_push_receipt()) told_.push_back(response.push_receipt().head());
  if (!broken_) down_.push_back({.message = response, .end = {}});
}

void Wire::Finish(const absl::Status& status) {
  finished_ = true;
  if (!broken_) down_.push_back({.message = std::nullopt, .end = status});
}

bool Wire::Send(const v1::SyncRequest& request) {
  if (broken_) return false;
  up_.push_back(request);
  return true;
}

Down Wire::TakeArrived() {
  Down down = std::move(arrived_.front());
  arrived_.pop_front();
  return down;
}

void Wire::DeliverUp() {
  v1::SyncRequest* into = std::exchange(read_into_, nullptr);
  const std::shared_ptr<server::SyncStream> stream = stream_;
  if (up_.empty()) {
    stream->OnReadDone(false);
  } else {
    *into = std::move(up_.front());
    up_.pop_front();
    stream->OnReadDone(true);
  }
  ReleaseIfFinished();
}

void Wire::ConfirmWrite() {
  writing_ = false;
  stream_->OnWriteDone(!broken_);
  ReleaseIfFinished();
}

void Wire::DeliverDown() {
  arrived_.push_back(std::move(down_.front()));
  down_.pop_front();
  ReleaseIfFinished();
}

bool Wire::Meddle(Mischief mischief) {
  const bool has_two = down_.size() > 1 && down_[0].message && down_[1].message;
  if (down_.empty() || !down_.front().message) return false;
  switch (mischief) {
    case Mischief::kLose:
      down_.pop_front();
      return true;
    case Mischief::kRepeat:
      down_.push_front(Down(down_.front()));
      return true;
    case Mischief::kSwap:
      if (has_two) std::swap(down_[0], down_[1]);
      return has_two;
  }
  return false;
}

void Wire::Break() {
  if (broken_) return;
  broken_ = true;
  up_.clear();
  down_.clear();
  arrived_.push_back({.message = std::nullopt, .end = AwayError()});
  if (stream_ == nullptr) return;
  const std::shared_ptr<server::SyncStream> stream = stream_;
  if (std::exchange(read_into_, nullptr) != nullptr) stream->OnReadDone(false);
  if (std::exchange(writing_, false)) stream->OnWriteDone(false);
  stream->OnCancel();
  ReleaseIfFinished();
}

void Wire::LoseServer() {
  read_into_ = nullptr;
  writing_ = false;
  stream_.reset();
  Break();
}

void Wire::ReleaseIfFinished() {
  if (!finished_ || writing_ || stream_ == nullptr) return;
  read_into_ = nullptr;
  stream_->OnDone();
  stream_.reset();
}

}  // namespace broodpact::simulation
