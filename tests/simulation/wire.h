#pragma once

// A stream between a client and a server, held by the scheduler: a message arrives when the
// scheduler says so, or never. Used from one thread at a time.

#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <vector>

#include "absl/status/status.h"

#include "broodpact/v1/sync_service.pb.h"
#include "server/pipe.h"
#include "server/sync_service.h"
#include "server/sync_stream.h"

namespace broodpact::simulation {

// What a client receives: a message, or the end of the stream.
struct Down {
  std::optional<v1::SyncResponse> message;
  absl::Status end;
};

// What a relay between the two may do to the next message, which no honest network does.
enum class Mischief { kLose, kRepeat, kSwap };

class Wire final : public server::Pipe {
 public:
  // Every head that the server lets out is added to `told`, which outlives this.
  Wire(const DeviceId& caller, std::vector<v1::SignedHead>& told) : caller_(caller), told_(told) {}

  // The server's end begins.
  void Accept(const server::SyncService::Surroundings& surroundings);

  // Pipe, for the server.
  absl::StatusOr<server::Caller> Who(const server::Callers& callers) const override;
  void Read(v1::SyncRequest& request) override { read_into_ = &request; }
  void Write(const v1::SyncResponse& response, server::Urgency urgency) override;
  void Finish(const absl::Status& status) override;

  // For the client.
  bool Send(const v1::SyncRequest& request);
  void SendEnd() { up_ended_ = true; }
  bool HasArrived() const { return !arrived_.empty(); }
  Down TakeArrived();

  // For the scheduler.
  bool CanDeliverUp() const { return read_into_ != nullptr && (!up_.empty() || up_ended_); }
  bool CanConfirmWrite() const { return writing_; }
  bool CanDeliverDown() const { return !down_.empty(); }
  void DeliverUp();
  void ConfirmWrite();
  void DeliverDown();
  // Meddles with what is on its way down; false if there is nothing to meddle with.
  bool Meddle(Mischief mischief);

  // The stream breaks: both sides hear of it, what is on its way is lost.
  void Break();
  // The server is gone, without a word to its streams.
  void LoseServer();
  bool broken() const { return broken_; }
  // Nothing will happen on it any more.
  bool over() const { return broken_ || (finished_ && stream_ == nullptr); }

 private:
  void ReleaseIfFinished();

  const DeviceId caller_;
  std::vector<v1::SignedHead>& told_;
  std::shared_ptr<server::SyncStream> stream_;
  v1::SyncRequest* read_into_ = nullptr;
  bool writing_ = false;
  bool finished_ = false;
  bool up_ended_ = false;
  bool broken_ = false;
  std::deque<v1::SyncRequest> up_;
  std::deque<Down> down_;
  std::deque<Down> arrived_;
};

}  // namespace broodpact::simulation
