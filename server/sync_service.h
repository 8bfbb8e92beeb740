#pragma once

// SyncService: opens a stream for each caller and keeps track of them, so that all can be ended.

#include <memory>
#include <mutex>
#include <vector>

#include "broodpact/v1/sync_service.grpc.pb.h"
#include "client/device/clock.h"
#include "server/allowance.h"
#include "server/arrival_log.h"
#include "server/callers.h"
#include "server/log.h"
#include "server/snapshots.h"

namespace broodpact::server {

class SyncStream;

// Streams that a device may have open. Beyond them it is refused: RESOURCE_EXHAUSTED with reason
// TOO_MANY_STREAMS.
inline constexpr int kStreamsOfOneMax = 16;

// Thread-safe.
class SyncService final : public v1::SyncService::CallbackService {
 public:
  // What streams work with; all of it outlives the service.
  struct Surroundings {
    const store::Store& store;
    ArrivalLog& arrival_log;
    const Callers& callers;
    const device::Clock& clock;
    const Log& log;
    Allowance& allowance;
    const Snapshots* snapshots = nullptr;  // to be announced; nothing: there are none
  };

  explicit SyncService(const Surroundings& surroundings) : surroundings_(surroundings) {}

  grpc::ServerBidiReactor<v1::SyncRequest, v1::SyncResponse>* Sync(
      grpc::CallbackServerContext* context) override;

  // Ends all streams, and those that come later, with UNAVAILABLE, reason STOPPING.
  void Stop();

 private:
  struct Open {
    std::weak_ptr<SyncStream> stream;
    DeviceId device;
  };
  // Keeps track of a stream, unless its device has too many.
  absl::Status Enter(const std::shared_ptr<SyncStream>& stream, const DeviceId& device);

  Surroundings surroundings_;
  std::mutex mutex_;  // guards all below
  std::vector<Open> streams_;
  bool stopping_ = false;
};

}  // namespace broodpact::server
