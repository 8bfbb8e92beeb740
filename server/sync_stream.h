#pragma once

// One client's stream: takes its pushes in, sends it the log from its cursor on, and goes on with
// what arrives. Private to SyncService.
//
// What carries the messages is behind a Pipe, so that a simulated network can.
//
// Memory is bounded: one message is read, one is written, and a few pushes wait at a time. A client
// that does not read stops its own stream only.

#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>

#include "absl/status/statusor.h"

#include "broodpact/v1/sync_service.pb.h"
#include "client/facts/chain.h"
#include "client/sync/head.h"
#include "server/callers.h"
#include "server/herald.h"
#include "server/pipe.h"
#include "server/sync_service.h"

namespace broodpact::server {

// Pushes of one stream that may wait for their place in the log. Then the stream is not read.
inline constexpr int kPushesWaitingMax = 8;

// Owned by its pipe; others hold it weakly.
class SyncStream final : public Listener, public std::enable_shared_from_this<SyncStream> {
 public:
  // `pipe` outlives all that is started on it. Begins to read; whoever is no member's device is
  // refused at once, and holds nothing open.
  static std::shared_ptr<SyncStream> Open(const SyncService::Surroundings& surroundings,
                                          Pipe& pipe);

  // Ends the stream. The first status stands.
  void End(const absl::Status& status);

  void OnGrown() override;

  // From the pipe. `ok` is false where the other side has closed, or is gone.
  void OnReadDone(bool ok);
  void OnWriteDone(bool ok);
  void OnCancel();
  // The last call: the pipe is done with it.
  void OnDone();

 private:
  SyncStream(const SyncService::Surroundings& surroundings, Pipe& pipe);

  // Receiving. One at a time: each follows on a read.
  absl::Status Receive();
  absl::Status ReceiveHello(const v1::Hello& hello, const Caller& caller);
  absl::Status ReceivePush(v1::Push& push);
  absl::Status CheckPlace(const v1::Hello& hello) const;
  void OnAnswer(const absl::StatusOr<Receipt>& answer);

  // Sending. One at a time: whoever sets `writing_` prepares and starts the next message.
  void Pump();
  absl::StatusOr<bool> Prepare();
  void PutOff(const std::optional<Receipt>& receipt);
  bool TellsEpochs();
  absl::StatusOr<bool> PrepareLog(const sync::Head& head);
  absl::StatusOr<std::uint64_t> PrepareChunk();

  void FinishIfIdle();  // with mutex_ held

  const SyncService::Surroundings surroundings_;
  Pipe& pipe_;

  // Of the receiving side.
  v1::SyncRequest request_;
  std::optional<Caller> caller_;  // set once, before `greeting_`
  Caller author_;                 // whose commits are pushed: the caller, or whom it carries for

  // Of the sending side, that is, of whoever set `writing_`.
  v1::SyncResponse response_;
  Urgency urgency_ = Urgency::kNow;
  std::uint64_t cursor_ = 0;  // arrivals that the client has, or are on their way
  std::optional<sync::Head> head_sent_;
  std::uint64_t epochs_sent_ = 0;  // as many changes of them as have been told

  // Reads, writes and the end are started with mutex_ held, so that nothing is started after the
  // end. A pipe never calls back on the thread that starts something.
  std::mutex mutex_;                          // guards all below
  std::optional<facts::ChainHead> greeting_;  // due
  std::optional<Receipt> receipt_;            // due; the newest is enough
  std::optional<absl::Status> ending_;
  int pushes_waiting_ = 0;
  bool greeted_ = false;
  bool reading_paused_ = false;
  bool writing_ = false;
  bool more_ = false;  // something may have become due while `writing_`
  bool finished_ = false;
};

}  // namespace broodpact::server
