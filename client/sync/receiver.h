#pragma once

// The reading half of a session: takes the server's messages apart, hashes what they carry, and
// puts whole ranges into the inbox. Runs on a thread of its own.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "client/facts/range.h"
#include "client/sync/head.h"
#include "client/sync/inbox.h"

namespace broodpact::v1 {
class LogChunk;
class SyncResponse;
class Welcome;
}  // namespace broodpact::v1

namespace broodpact::sync {

class Receiver {
 public:
  // `start` is the end of the replica's log. `inbox` outlives the receiver.
  Receiver(const Hash& cooperative, const facts::LogPoint& start, Inbox& inbox);

  // Works off one message.
  //
  // Errors: PERMISSION_DENIED with reason HEAD_SIGNATURE_BAD; DATA_LOSS with reason LOG_OTHER (a
  // head that is not of the log that was sent, or another key than before) or LOG_ORDER (a chunk
  // that does not follow); INVALID_ARGUMENT with reason ANSWER_FORM, RECORD_FORM, CHUNK_FORM or
  // those of ParseCommit; RESOURCE_EXHAUSTED with reason CHUNK_TOO_LARGE; CANCELLED with reason
  // SESSION_OVER when nobody takes any more.
  absl::Status Receive(const v1::SyncResponse& message);

 private:
  absl::Status ReceiveWelcome(const v1::Welcome& welcome);
  absl::Status ReceiveChunk(const v1::LogChunk& chunk);
  absl::Status ReceiveHead(const Head& head);
  absl::StatusOr<Head> CheckedHead(const v1::SignedHead& message);
  absl::Status HandOver(std::optional<Head> head);

  Hash cooperative_;
  Inbox& inbox_;
  Received present_;
  std::optional<PublicKey> server_key_;
  std::optional<Head> checked_;  // the newest
  std::string checked_bytes_;    // its message
};

}  // namespace broodpact::sync
