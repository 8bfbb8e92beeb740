#include "client/sync/pusher.h"

#include <vector>

#include "client/base/hash.h"
#include "client/base/status.h"

namespace broodpact::sync {

absl::Status Pusher::Begin(const facts::ChainHead& server_head) {
  begun_ = true;
  sent_ = server_head;
  return SendMore();
}

absl::Status Pusher::Acknowledge(std::uint64_t chain_seq) {
  while (!waiting_.empty() && waiting_.front().last_seq <= chain_seq) {
    commits_sent_ += waiting_.front().commits;
    waiting_.pop_front();
  }
  return SendMore();
}

absl::Status Pusher::SendMore() {
  while (!exhausted_ && waiting_.size() < kPushesUnacknowledgedMax) {
    BP_ASSIGN_OR_RETURN(const std::vector<facts::SignedCommit> run, target_.Undelivered(sent_));
    exhausted_ = run.empty();
    if (exhausted_) break;
    // A broken stream ends the session with the server's own words, which come by the reader.
    if (!send_(run)) break;
    // The run is dense: the next one begins after its last commit.
    sent_ = {.seq = sent_.seq + run.size(), .hash = Sha256(run.back().bytes)};
    waiting_.push_back({.last_seq = sent_.seq, .commits = run.size()});
  }
  return absl::OkStatus();
}

}  // namespace broodpact::sync
