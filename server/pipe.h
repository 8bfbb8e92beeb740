#pragma once

// The two directions of a client's stream, as SyncStream uses them: gRPC's, or a simulated one.

#include "absl/status/statusor.h"

#include "server/callers.h"

namespace broodpact::v1 {
class SyncRequest;
class SyncResponse;
}  // namespace broodpact::v1

namespace broodpact::server {

// Whether a message has to go out at once, or may wait for the one that follows on it.
enum class Urgency { kNow, kWithNext };

// None of the calls blocks or calls back before it returns. After Finish nothing is started.
class Pipe {
 public:
  virtual ~Pipe() = default;

  // Who is at the other end. Errors: those of Callers::Of.
  virtual absl::StatusOr<Caller> Who(const Callers& callers) const = 0;

  // Reads the next message into `request`, then calls SyncStream::OnReadDone. One at a time.
  virtual void Read(v1::SyncRequest& request) = 0;
  // Writes `response`, which stays as it is until SyncStream::OnWriteDone is called. One at a time.
  virtual void Write(const v1::SyncResponse& response, Urgency urgency) = 0;
  // Ends the stream; once.
  virtual void Finish(const absl::Status& status) = 0;
};

}  // namespace broodpact::server
