#pragma once

// The sending half of a session: own commits that have not arrived, a few runs ahead of what the
// server has acknowledged.

#include <cstdint>
#include <deque>
#include <functional>

#include "absl/status/status.h"

#include "client/facts/chain.h"
#include "client/facts/commit.h"
#include "client/sync/session.h"

namespace broodpact::sync {

// Runs that may be on their way at a time: enough that the server never waits for the next one.
inline constexpr std::size_t kPushesUnacknowledgedMax = 4;

class Pusher {
 public:
  // Sends one run; false if the stream is broken.
  using Send = std::function<bool(const std::vector<facts::SignedCommit>&)>;

  // `target` outlives the pusher.
  Pusher(Target& target, Send send) : target_(target), send_(std::move(send)) {}

  // Begins after `server_head`, the own chain as the server has it.
  // Errors: those of Target::Undelivered.
  absl::Status Begin(const facts::ChainHead& server_head);

  // The server has the own chain up to `chain_seq`.
  // Errors: those of Target::Undelivered.
  absl::Status Acknowledge(std::uint64_t chain_seq);

  // Whether all own commits have arrived. False before Begin.
  bool done() const { return begun_ && exhausted_ && waiting_.empty(); }

  // Commits that the server has acknowledged.
  std::uint64_t commits_sent() const { return commits_sent_; }

 private:
  struct Run {
    std::uint64_t last_seq = 0;
    std::size_t commits = 0;
  };

  absl::Status SendMore();

  Target& target_;
  Send send_;
  facts::ChainHead sent_;
  std::deque<Run> waiting_;
  std::uint64_t commits_sent_ = 0;
  bool begun_ = false;
  bool exhausted_ = false;
};

}  // namespace broodpact::sync
