#include "server/sync_stream.h"

#include <iterator>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/sync/chunk.h"
#include "client/sync/session.h"
#include "server/answer.h"
#include "server/door.h"

namespace broodpact::server {
namespace {

absl::Status HelloError() {
  return Fail(absl::StatusCode::kInvalidArgument, "HELLO_MISSING",
              "a stream begins with one hello; pushes follow it");
}

absl::Status OtherLogError(std::uint64_t arrivals) {
  return Fail(absl::StatusCode::kFailedPrecondition, "LOG_OTHER",
              fmt::format("the log that the client holds, of {} arrivals, is no beginning of this "
                          "server's",
                          arrivals));
}

}  // namespace

std::shared_ptr<SyncStream> SyncStream::Open(const SyncService::Surroundings& surroundings,
                                             Pipe& pipe) {
  std::shared_ptr<SyncStream> stream(new SyncStream(surroundings, pipe));
  const absl::StatusOr<Caller> caller = pipe.Who(surroundings.callers);
  if (caller.ok()) {
    pipe.Read(stream->request_);
  } else {
    stream->End(caller.status());
  }
  return stream;
}

SyncStream::SyncStream(const SyncService::Surroundings& surroundings, Pipe& pipe)
    : surroundings_(surroundings), pipe_(pipe) {}

void SyncStream::OnGrown() {
  Pump();
}

void SyncStream::OnReadDone(bool ok) {
  if (!ok) {
    End(absl::OkStatus());  // the client has closed its side, or is gone
    return;
  }
  const absl::Status status = Receive();
  if (!status.ok()) {
    End(status);
    return;
  }
  {
    const std::lock_guard lock(mutex_);
    reading_paused_ = pushes_waiting_ >= kPushesWaitingMax;
    if (!reading_paused_ && !finished_) pipe_.Read(request_);
  }
  Pump();
}

absl::Status SyncStream::Receive() {
  if (caller_.has_value()) {
    if (!request_.has_push()) return HelloError();
    return ReceivePush(*request_.mutable_push());
  }
  // Who is not known is told so, whatever it says.
  BP_ASSIGN_OR_RETURN(const Caller caller, pipe_.Who(surroundings_.callers));
  if (!request_.has_hello()) return HelloError();
  return ReceiveHello(request_.hello(), caller);
}

absl::Status SyncStream::ReceiveHello(const v1::Hello& hello, const Caller& caller) {
  BP_RETURN_IF_ERROR(CheckPlace(hello));
  author_ = caller;
  if (!hello.device_id().empty()) {
    const std::optional<IdBytes> device = IdOfBytes(hello.device_id());
    if (!device.has_value()) return HelloError();
    BP_ASSIGN_OR_RETURN(author_, surroundings_.callers.Author(DeviceId{*device}));
  }
  BP_ASSIGN_OR_RETURN(
      const facts::ChainHead chain_head,
      surroundings_.store.HeadOf({.device = author_.device, .incarnation = hello.incarnation()}));
  surroundings_.log.Write(
      Level::kInfo, "stream_opened",
      {{"device", ToText(caller.device)}, {"arrivals", fmt::to_string(hello.arrivals())}});
  caller_ = caller;
  surroundings_.arrival_log.herald().Listen(weak_from_this());
  const std::lock_guard lock(mutex_);
  cursor_ = hello.arrivals();  // nobody sends before `greeting_` is set
  greeting_ = chain_head;
  return absl::OkStatus();
}

// Whether the client's log is a beginning of this one.
absl::Status SyncStream::CheckPlace(const v1::Hello& hello) const {
  const Hash cooperative = surroundings_.arrival_log.cooperative();
  if (hello.cooperative_id() != ViewOf(cooperative)) {
    return Fail(absl::StatusCode::kFailedPrecondition, "COOPERATIVE_OTHER",
                "this server belongs to another cooperative");
  }
  if (hello.arrivals() == 0) return absl::OkStatus();
  if (hello.arrivals() > surroundings_.store.point().arrivals) {
    return OtherLogError(hello.arrivals());
  }
  BP_ASSIGN_OR_RETURN(const Hash log_hash, surroundings_.store.LogHashAt(hello.arrivals()));
  if (hello.log_hash() != ViewOf(log_hash)) return OtherLogError(hello.arrivals());
  return absl::OkStatus();
}

absl::Status SyncStream::ReceivePush(v1::Push& push) {
  BP_CHECK(caller_.has_value());
  BP_RETURN_IF_ERROR(surroundings_.callers.CheckStill(*caller_));
  BP_RETURN_IF_ERROR(surroundings_.allowance.Take(caller_->device,
                                                  static_cast<std::int64_t>(push.ByteSizeLong()),
                                                  surroundings_.clock.NowMillis()));
  std::vector<std::string> commits(std::make_move_iterator(push.mutable_commits()->begin()),
                                   std::make_move_iterator(push.mutable_commits()->end()));
  BP_ASSIGN_OR_RETURN(Run run, CheckRun(std::move(commits), push.signature(),
                                        {.cooperative = surroundings_.arrival_log.cooperative(),
                                         .device = author_.device,
                                         .key = author_.key}));
  BP_RETURN_IF_ERROR(surroundings_.callers.CheckTaken(author_.device, run.commits));
  {
    const std::lock_guard lock(mutex_);
    ++pushes_waiting_;
  }
  surroundings_.arrival_log.Submit(
      {.run = std::move(run),
       .meta = {},
       .founds = false,
       .answer = [weak = weak_from_this()](const absl::StatusOr<Receipt>& answer) {
         if (const std::shared_ptr<SyncStream> stream = weak.lock()) stream->OnAnswer(answer);
       }});
  return absl::OkStatus();
}

void SyncStream::OnAnswer(const absl::StatusOr<Receipt>& answer) {
  if (!answer.ok()) {
    End(answer.status());
    return;
  }
  {
    const std::lock_guard lock(mutex_);
    --pushes_waiting_;
    receipt_ = *answer;
    if (reading_paused_ && !finished_) {
      reading_paused_ = false;
      pipe_.Read(request_);
    }
  }
  Pump();
}

void SyncStream::OnWriteDone(bool ok) {
  {
    const std::lock_guard lock(mutex_);
    writing_ = false;
    if (!ok && !ending_.has_value()) ending_ = absl::CancelledError("the client is gone");
  }
  Pump();
}

void SyncStream::OnCancel() {
  End(absl::CancelledError("the client is gone"));
}

void SyncStream::OnDone() {
  const std::lock_guard lock(mutex_);
  if (!caller_.has_value()) return;
  surroundings_.log.Write(
      Level::kInfo, "stream_closed",
      {{"device", ToText(caller_->device)}, {"arrivals", fmt::to_string(cursor_)}});
}

void SyncStream::Pump() {
  {
    const std::lock_guard lock(mutex_);
    more_ = true;
    if (writing_ || finished_) return;
    writing_ = true;
  }
  while (true) {
    {
      const std::lock_guard lock(mutex_);
      more_ = false;
    }
    // Reads the store, so without the lock; `writing_` keeps others out.
    const absl::StatusOr<bool> prepared = Prepare();
    const std::lock_guard lock(mutex_);
    if (!prepared.ok() && !ending_.has_value()) ending_ = prepared.status();
    if (!ending_.has_value() && *prepared) {
      pipe_.Write(response_, urgency_);
      return;
    }
    if (!ending_.has_value() && more_) continue;
    writing_ = false;
    FinishIfIdle();
    return;
  }
}

// Fills `response_` with what is due first. False if nothing is.
absl::StatusOr<bool> SyncStream::Prepare() {
  std::optional<facts::ChainHead> greeting;
  std::optional<Receipt> receipt;
  bool greeted = false;
  {
    const std::lock_guard lock(mutex_);
    if (ending_.has_value()) return false;
    greeting = std::exchange(greeting_, std::nullopt);
    greeted = greeted_;
    greeted_ = greeted_ || greeting.has_value();
    if (greeted) receipt = std::exchange(receipt_, std::nullopt);
  }
  response_.Clear();
  urgency_ = Urgency::kNow;
  if (greeting.has_value()) {
    v1::Welcome& welcome = *response_.mutable_welcome();
    welcome.set_chain_seq(greeting->seq);
    if (greeting->seq > 0) welcome.set_chain_hash(std::string(ViewOf(greeting->hash)));
    sync::Write(surroundings_.arrival_log.herald().head(), *welcome.mutable_head());
    welcome.set_time_ms(surroundings_.clock.NowMillis());
    epochs_sent_ = surroundings_.arrival_log.epochs_changes();
    sync::Write(surroundings_.arrival_log.epochs(), *welcome.mutable_epochs());
    const Snapshots* const snapshots = surroundings_.snapshots;
    if (const auto newest = snapshots == nullptr ? std::nullopt : snapshots->NewestPlace()) {
      welcome.mutable_snapshot()->set_arrivals(newest->arrivals);
      welcome.mutable_snapshot()->set_log_hash(std::string(ViewOf(newest->log_hash)));
    }
    return true;
  }
  if (!greeted) return false;
  // First, what may follow from a loss; then the losses, so that they are told before it.
  const sync::Head head = surroundings_.arrival_log.herald().head();
  if (TellsEpochs()) {
    PutOff(receipt);
    return true;
  }
  if (receipt.has_value()) {
    response_.mutable_push_receipt()->set_chain_seq(receipt->chain_seq);
    sync::Write(receipt->head, *response_.mutable_push_receipt()->mutable_head());
    return true;
  }
  return PrepareLog(head);
}

void SyncStream::PutOff(const std::optional<Receipt>& receipt) {
  const std::lock_guard lock(mutex_);
  // A newer one says all that this one does.
  if (!receipt_.has_value()) receipt_ = receipt;
}

bool SyncStream::TellsEpochs() {
  const std::uint64_t changes = surroundings_.arrival_log.epochs_changes();
  if (changes == epochs_sent_) return false;
  epochs_sent_ = changes;
  sync::Write(surroundings_.arrival_log.epochs(), *response_.mutable_epochs()->mutable_epochs());
  return true;
}

// What follows up to `head`, or `head` itself.
absl::StatusOr<bool> SyncStream::PrepareLog(const sync::Head& head) {
  const bool behind = cursor_ < head.point.arrivals;
  // Of a later epoch it is told although nothing has arrived: the one before holds no longer.
  const bool told =
      head_sent_ && head_sent_->point == head.point && head_sent_->epoch == head.epoch;
  if (!behind && (cursor_ != head.point.arrivals || told)) return false;
  BP_CHECK(caller_.has_value());
  // Nothing of the log goes to a device whose certificate has expired meanwhile, or that was cut
  // off: with the arrival of its revocation its open stream ends.
  BP_RETURN_IF_ERROR(surroundings_.callers.CheckStill(*caller_));
  if (!behind) {
    sync::Write(head, *response_.mutable_head());
    head_sent_ = head;
    return true;
  }
  BP_ASSIGN_OR_RETURN(const std::uint64_t after, PrepareChunk());
  // It may reach beyond the head, to what follows from a loss since.
  if (surroundings_.arrival_log.epochs_changes() != epochs_sent_) {
    response_.Clear();
    return TellsEpochs();
  }
  cursor_ = after;
  // The head follows at once: both may go out together.
  if (cursor_ == head.point.arrivals) urgency_ = Urgency::kWithNext;
  return true;
}

// Puts the next part of the log into `response_`. Returns the cursor after it.
absl::StatusOr<std::uint64_t> SyncStream::PrepareChunk() {
  v1::LogChunk& chunk = *response_.mutable_chunk();
  chunk.set_arrivals_before(cursor_);
  const std::shared_ptr<const Tail> tail = surroundings_.arrival_log.herald().tail();
  if (tail != nullptr && tail->arrivals_before == cursor_) {
    chunk.set_records_zstd(tail->packed);
    return tail->arrivals_after;
  }
  BP_ASSIGN_OR_RETURN(const store::LogSlice slice,
                      surroundings_.store.ReadLog(cursor_, sync::kChunkBytesTarget));
  if (slice.count == 0) {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                fmt::format("the server cannot read its log after arrival {}", cursor_));
  }
  chunk.set_records_zstd(sync::PackRecords(slice.records));
  return cursor_ + slice.count;
}

void SyncStream::End(const absl::Status& status) {
  const std::lock_guard lock(mutex_);
  if (!ending_.has_value()) ending_ = status;
  FinishIfIdle();
}

void SyncStream::FinishIfIdle() {
  if (!ending_.has_value() || writing_ || finished_) return;
  finished_ = true;
  pipe_.Finish(*ending_);
}

}  // namespace broodpact::server
