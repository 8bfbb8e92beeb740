#pragma once

// What a session has received and not yet worked off: the reading thread puts in, the calling
// thread takes out, so that reading and hashing overlap with folding and storing.
//
// Bounded: at most kRangesWaitingMax ranges wait; then Put blocks, the reader reads no more, and
// the server sees it by flow control. Thread-safe, for one thread at either end.

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <mutex>
#include <optional>
#include <vector>

#include "absl/status/status.h"

#include "client/facts/chain.h"
#include "client/facts/range.h"
#include "client/sync/epoch.h"
#include "client/sync/head.h"

namespace broodpact::sync {

inline constexpr std::size_t kRangesWaitingMax = 2;
inline constexpr std::size_t kHeadsWaitingMax = 256;

// A part of the log as it came. `head`, if present, is the server's for the end of the range.
struct Received {
  facts::Range range;
  std::size_t bytes = 0;  // of its commits
  std::optional<Head> head;
};

// The own chain as the server has it, how many arrivals its log has, and what its clock says (0: it
// does not tell).
struct ServerState {
  facts::ChainHead chain_head{};
  std::uint64_t arrivals = 0;
  std::int64_t time_ms = 0;
  std::optional<facts::LogPoint> snapshot{};  // the newest that it has
};

// Own commits up to `chain_seq` are durable at the server; so many arrivals its log has with them.
struct Receipt {
  std::uint64_t chain_seq = 0;
  std::uint64_t arrivals = 0;
};

// What there is to do. One or more of it is present.
struct News {
  std::optional<Epochs> epochs;  // of the server's log, where it has had a loss
  std::optional<ServerState> welcome;
  std::optional<Receipt> receipt;  // the newest
  std::vector<Head> heard;         // every head as it came, at most the newest kHeadsWaitingMax
  std::optional<Received> received;
  std::optional<absl::Status> end;  // the stream is over, and so is all that came by it
};

class Inbox {
 public:
  // From the reader.
  void PutEpochs(Epochs epochs);
  void PutWelcome(const ServerState& server);
  void PutReceipt(const Receipt& receipt);
  void PutHead(const Head& head);
  // Joins `received` to the range that waits last, if both together are within the bounds of a
  // range: while the other thread is busy, small ranges become one. False: nobody takes any more.
  bool Put(Received received);
  void PutEnd(const absl::Status& status);

  // Whether Take returns at once.
  bool HasNews();

  // Waits for news. Everything small comes at once, ranges one at a time, the end last.
  News Take();

  // Nobody takes any more: Put returns at once from here on.
  void Close();

  // Waits for the end. False if it has not come in `patience`.
  bool AwaitEnd(std::chrono::milliseconds patience);

 private:
  bool HasNewsLocked() const;  // with mutex_ held

  std::mutex mutex_;  // guards all below
  std::condition_variable changed_;
  News small_;
  std::deque<Received> ranges_;
  std::optional<absl::Status> end_;
  bool closed_ = false;
};

}  // namespace broodpact::sync
