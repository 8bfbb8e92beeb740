#include "client/sync/exchange.h"

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "absl/status/status.h"

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/status.h"

namespace broodpact::sync {
namespace {

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

v1::SyncRequest PushOf(const std::vector<facts::SignedCommit>& run) {
  v1::SyncRequest request;
  v1::Push& push = *request.mutable_push();
  for (const facts::SignedCommit& commit : run) push.add_commits(commit.bytes);
  push.set_signature(std::string(ViewOf(run.back().signature)));
  return request;
}

// The client's log as the server judges it: what it calls "another log" is, for this replica, a
// server with another history.
absl::Status AsClientSees(const absl::Status& status) {
  if (ReasonOf(status) != "LOG_OTHER") return status;
  return Fail(absl::StatusCode::kDataLoss, "LOG_OTHER",
              "the server tells another history than the one that this replica holds; nothing was "
              "taken or sent, ask the other keepers before you go on");
}

}  // namespace

Exchange::Exchange(Target& target, const Options& options, Send send)
    : target_(target),
      options_(options),
      send_(std::move(send)),
      pusher_(target, [this](const auto& run) { return send_(PushOf(run)); }),
      receiver_(target.cooperative(), target.point(), inbox_),
      last_(target.LastHead()) {
  progress_.arrivals = target.point().arrivals;
}

void Exchange::Greet() {
  send_(HelloOf(target_));  // if it fails, the reader learns why
}

void Exchange::ReceiveEnd(const absl::Status& status) {
  inbox_.PutEnd(AsClientSees(status));
}

absl::StatusOr<bool> Exchange::WorkOff() {
  News news = inbox_.Take();
  if (news.epochs.has_value()) BP_RETURN_IF_ERROR(target_.HearEpochs(*news.epochs));
  // Before anything else, so that a head which convicts the server is kept even if all ends.
  for (const Head& head : news.heard) BP_RETURN_IF_ERROR(target_.HearHead(head));
  // Sending comes first: the server works on it while a range is folded here.
  if (news.welcome.has_value()) BP_RETURN_IF_ERROR(OnWelcome(*news.welcome));
  if (news.receipt.has_value()) BP_RETURN_IF_ERROR(OnReceipt(*news.receipt));
  if (news.received.has_value()) BP_RETURN_IF_ERROR(Apply(*news.received));
  progress_.commits_sent = pusher_.commits_sent();
  if (options_.on_progress) options_.on_progress(progress_);
  if (options_.mode == Mode::kOnce && IsWhole()) return true;
  if (news.end.has_value()) return OnEnd(*news.end);
  return false;
}

bool Exchange::Close() {
  inbox_.Close();
  return ended_;
}

std::optional<Exchange::Growth> Exchange::growth() const {
  if (!last_ || !kept_) return std::nullopt;
  return Growth{.before = *last_, .after = *kept_};
}

absl::Status Exchange::OnWelcome(const ServerState& server) {
  goal_ = server.arrivals;
  Heard(server.arrivals);
  if (server.time_ms != 0) progress_.server_ahead_ms = server.time_ms - options_.now_ms;
  if (server.snapshot) BP_RETURN_IF_ERROR(target_.HearSnapshot(*server.snapshot));
  return pusher_.Begin(server.chain_head);
}

absl::Status Exchange::OnReceipt(const Receipt& receipt) {
  goal_ = std::max(goal_, receipt.arrivals);
  Heard(receipt.arrivals);
  return pusher_.Acknowledge(receipt.chain_seq);
}

void Exchange::Heard(std::uint64_t arrivals) {
  progress_.arrivals_server = std::max(progress_.arrivals_server, arrivals);
}

absl::Status Exchange::Apply(Received& received) {
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

// Whether there is nothing left of what there was when the last own commit had arrived. What others
// send meanwhile does not count, or a busy server would never let go.
bool Exchange::IsWhole() const {
  return pusher_.done() && progress_.arrivals >= goal_;
}

absl::StatusOr<bool> Exchange::OnEnd(const absl::Status& end) {
  ended_ = true;
  if (options_.stop.stop_requested()) {
    if (options_.mode == Mode::kFollow) return true;
    return Fail(absl::StatusCode::kCancelled, "SYNC_STOPPED",
                "the sync was stopped before it was whole; sync again to go on");
  }
  if (!end.ok()) return end;
  return Fail(absl::StatusCode::kUnavailable, "SERVER_AWAY",
              "the server ended the sync; what was recorded is kept, sync again");
}

}  // namespace broodpact::sync
