#include "client/sync/session.h"

#include <algorithm>
#include <chrono>
#include <memory>
#include <stop_token>
#include <string>
#include <thread>
#include <utility>

#include "absl/status/status.h"
#include <grpcpp/grpcpp.h>

#include "broodpact/v1/sync_service.grpc.pb.h"
#include "client/base/status.h"
#include "client/sync/inbox.h"
#include "client/sync/log_proofs.h"
#include "client/sync/pusher.h"
#include "client/sync/receiver.h"

namespace broodpact::sync {
namespace {

using Stream = grpc::ClientReaderWriter<v1::SyncRequest, v1::SyncResponse>;

// How long a server may take to end a stream that the client has closed.
constexpr std::chrono::milliseconds kFarewell{1'000};

v1::SyncRequest HelloOf(const Target& target) {
  v1::SyncRequest request;
  v1::Hello& hello = *request.mutable_hello();
  hello.set_cooperative_id(std::string(ViewOf(target.cooperative())));
  const facts::LogPoint point = target.point();
  hello.set_arrivals(point.arrivals);
  if (point.arrivals > 0) hello.set_log_hash(std::string(ViewOf(point.log_hash)));
  hello.set_incarnation(target.incarnation());
  if (const auto device = target.device()) hello.set_device_id(std::string(ViewOf(device->bytes)));
  return request;
}

bool WritePush(Stream& stream, const std::vector<facts::SignedCommit>& run) {
  v1::SyncRequest request;
  v1::Push& push = *request.mutable_push();
  for (const facts::SignedCommit& commit : run) push.add_commits(commit.bytes);
  push.set_signature(std::string(ViewOf(run.back().signature)));
  return stream.Write(request);
}

// The client's log as the server judges it: what it calls "another log" is, for this replica, a
// server with another history.
absl::Status AsClientSees(const absl::Status& status) {
  if (ReasonOf(status) != "LOG_OTHER") return status;
  return Fail(absl::StatusCode::kDataLoss, "LOG_OTHER",
              "the server tells another history than the one that this replica holds; nothing was "
              "taken or sent, ask the other keepers before you go on");
}

class Session {
 public:
  Session(const Credentials& credentials, Target& target, const Options& options)
      : credentials_(credentials),
        target_(target),
        options_(options),
        pusher_(target, [this](const auto& run) { return WritePush(*stream_, run); }),
        receiver_(target.cooperative(), target.point(), inbox_),
        last_(target.LastHead()) {}

  absl::StatusOr<Progress> Run(const std::shared_ptr<grpc::Channel>& channel) {
    progress_.arrivals = target_.point().arrivals;
    const auto stub = v1::SyncService::NewStub(channel);
    stream_ = stub->Sync(&context_);
    const std::stop_callback cancel_on_stop(options_.stop, [this] { context_.TryCancel(); });
    stream_->Write(HelloOf(target_));  // if it fails, the reader learns why
    std::jthread reader([this] { Read(); });

    const absl::Status status = WorkOff();
    inbox_.Close();
    if (status.ok() && !ended_) stream_->WritesDone();
    if (!status.ok() || !inbox_.AwaitEnd(kFarewell)) context_.TryCancel();
    reader.join();
    if (!status.ok()) return status;
    if (last_ && kept_) BP_RETURN_IF_ERROR(CheckGrowth(channel, *last_, *kept_));
    return progress_;
  }

 private:
  // The reading thread, until the stream ends.
  void Read() {
    v1::SyncResponse message;
    absl::Status status;
    while (status.ok() && stream_->Read(&message)) status = receiver_.Receive(message);
    if (!status.ok()) context_.TryCancel();
    const grpc::Status finished = stream_->Finish();
    if (status.ok()) status = AsClientSees(FromGrpc(finished, context_, credentials_.address));
    inbox_.PutEnd(status);
  }

  // The calling thread, until there is nothing to do or something fails.
  absl::Status WorkOff() {
    while (true) {
      News news = inbox_.Take();
      // Before anything else, so that a head which convicts the server is kept even if all ends.
      for (const Head& head : news.heard) BP_RETURN_IF_ERROR(target_.HearHead(head));
      // Sending comes first: the server works on it while a range is folded here.
      if (news.welcome.has_value()) BP_RETURN_IF_ERROR(OnWelcome(*news.welcome));
      if (news.receipt.has_value()) BP_RETURN_IF_ERROR(OnReceipt(*news.receipt));
      if (news.received.has_value()) BP_RETURN_IF_ERROR(Apply(*news.received));
      progress_.commits_sent = pusher_.commits_sent();
      if (options_.on_progress) options_.on_progress(progress_);
      if (options_.mode == Mode::kOnce && IsWhole()) return absl::OkStatus();
      if (news.end.has_value()) return OnEnd(*news.end);
    }
  }

  absl::Status OnWelcome(const ServerState& server) {
    goal_ = server.arrivals;
    Heard(server.arrivals);
    if (server.time_ms != 0) progress_.server_ahead_ms = server.time_ms - options_.now_ms;
    return pusher_.Begin(server.chain_head);
  }

  absl::Status OnReceipt(const Receipt& receipt) {
    goal_ = std::max(goal_, receipt.arrivals);
    Heard(receipt.arrivals);
    return pusher_.Acknowledge(receipt.chain_seq);
  }

  void Heard(std::uint64_t arrivals) {
    progress_.arrivals_server = std::max(progress_.arrivals_server, arrivals);
  }

  absl::Status Apply(Received& received) {
    if (!received.range.empty()) {
      progress_.commits_received += received.range.arrivals.size();
      progress_.arrivals = received.range.after.arrivals;
      BP_RETURN_IF_ERROR(target_.Apply(std::move(received.range)));
      Heard(progress_.arrivals);
    }
    if (!received.head.has_value()) return absl::OkStatus();
    kept_ = received.head;
    return target_.KeepHead(*received.head);
  }

  // Whether there is nothing left of what there was when the last own commit had arrived. What
  // others send meanwhile does not count, or a busy server would never let go.
  bool IsWhole() const { return pusher_.done() && progress_.arrivals >= goal_; }

  absl::Status OnEnd(const absl::Status& end) {
    ended_ = true;
    if (options_.stop.stop_requested()) {
      if (options_.mode == Mode::kFollow) return absl::OkStatus();
      return Fail(absl::StatusCode::kCancelled, "SYNC_STOPPED",
                  "the sync was stopped before it was whole; sync again to go on");
    }
    if (!end.ok()) return end;
    return Fail(absl::StatusCode::kUnavailable, "SERVER_AWAY",
                "the server ended the sync; what was recorded is kept, sync again");
  }

  const Credentials& credentials_;
  Target& target_;
  const Options& options_;
  Inbox inbox_;
  Pusher pusher_;
  Receiver receiver_;
  grpc::ClientContext context_;
  std::unique_ptr<Stream> stream_;
  Progress progress_;
  std::optional<Head> last_;  // of the sessions before
  std::optional<Head> kept_;  // of this one, the newest
  std::uint64_t goal_ = 0;    // arrivals to reach before a session that runs once is whole
  bool ended_ = false;
};

}  // namespace

absl::StatusOr<Progress> RunSession(const Credentials& credentials, Target& target,
                                    const Options& options) {
  BP_ASSIGN_OR_RETURN(const std::shared_ptr<grpc::Channel> channel,
                      Connect(credentials, options.now_ms));
  Session session(credentials, target, options);
  return session.Run(channel);
}

}  // namespace broodpact::sync
