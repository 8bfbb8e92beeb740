#include "server/sync_service.h"

#include "server/sync_stream.h"

namespace broodpact::server {

grpc::ServerBidiReactor<v1::SyncRequest, v1::SyncResponse>* SyncService::Sync(
    grpc::CallbackServerContext* context) {
  const std::shared_ptr<SyncStream> stream = SyncStream::Open(surroundings_, *context);
  bool stopping = false;
  {
    const std::lock_guard lock(mutex_);
    std::erase_if(streams_, [](const std::weak_ptr<SyncStream>& each) { return each.expired(); });
    streams_.push_back(stream);
    stopping = stopping_;
  }
  if (stopping) stream->Stop();
  return stream.get();
}

void SyncService::Stop() {
  std::vector<std::weak_ptr<SyncStream>> streams;
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    streams = streams_;
  }
  for (const std::weak_ptr<SyncStream>& each : streams) {
    if (const std::shared_ptr<SyncStream> stream = each.lock()) stream->Stop();
  }
}

}  // namespace broodpact::server
