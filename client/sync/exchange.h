#pragma once

// What a session does with what comes, whatever carries its messages: a gRPC stream with a thread
// that reads it (session.cc), or a simulated network on one thread.
//
// Receive and ReceiveEnd are the reading side, for one thread; all else is the working side, for
// one thread, which may be the same.

#include <chrono>
#include <cstdint>
#include <functional>
#include <optional>

#include "absl/status/statusor.h"

#include "client/sync/inbox.h"
#include "client/sync/pusher.h"
#include "client/sync/receiver.h"
#include "client/sync/session.h"

namespace broodpact::v1 {
class SyncRequest;
class SyncResponse;
}  // namespace broodpact::v1

namespace broodpact::sync {

class Exchange {
 public:
  // Sends one message; false if the stream is broken: the reading side then learns why.
  using Send = std::function<bool(const v1::SyncRequest&)>;

  // `target` and `options` outlive the exchange.
  Exchange(Target& target, const Options& options, Send send);

  // Says hello. First of all.
  void Greet();

  // A message has come. An error ends the stream, and is to be passed to ReceiveEnd.
  // Errors: those of Receiver::Receive.
  absl::Status Receive(const v1::SyncResponse& message) { return receiver_.Receive(message); }

  // The stream is over, with the server's status or an error of Receive.
  void ReceiveEnd(const absl::Status& status);

  // Whether WorkOff has something to do at once.
  bool HasNews() { return inbox_.HasNews(); }

  // Waits for news and works some off. True: there is nothing more to do, the session is whole or
  // was stopped.
  // Errors: those of RunSession.
  absl::StatusOr<bool> WorkOff();

  // Takes no more. Returns whether the other side had ended the stream.
  bool Close();
  // Waits for the end of the stream; false if it has not come in `patience`.
  bool AwaitEnd(std::chrono::milliseconds patience) { return inbox_.AwaitEnd(patience); }

  const Progress& progress() const { return progress_; }

  // The head of the sessions before and the newest of this one, where there are both: the server is
  // to prove that its log has only grown from one to the other.
  struct Growth {
    Head before;
    Head after;
  };
  std::optional<Growth> growth() const;

 private:
  absl::Status OnWelcome(const ServerState& server);
  absl::Status OnReceipt(const Receipt& receipt);
  absl::Status Apply(Received& received);
  absl::StatusOr<bool> OnEnd(const absl::Status& end);
  void Heard(std::uint64_t arrivals);
  bool IsWhole() const;

  Target& target_;
  const Options& options_;
  const Send send_;
  Inbox inbox_;
  Pusher pusher_;
  Receiver receiver_;
  Progress progress_;
  std::optional<Head> last_;  // of the sessions before
  std::optional<Head> kept_;  // of this one, the newest
  std::uint64_t goal_ = 0;    // arrivals to reach before a session that runs once is whole
  bool ended_ = false;
};

}  // namespace broodpact::sync
