#include "server/sync_service.h"

#include <grpcpp/grpcpp.h>

#include "server/answer.h"
#include "server/sync_stream.h"

namespace broodpact::server {
namespace {

// A stream of gRPC's. Owns itself, and its SyncStream, until gRPC is done with it.
class GrpcPipe final : public grpc::ServerBidiReactor<v1::SyncRequest, v1::SyncResponse>,
                       public Pipe {
 public:
  // The caller holds the result weakly from the moment when it returns.
  static GrpcPipe* Open(const SyncService::Surroundings& surroundings,
                        grpc::CallbackServerContext& context, std::shared_ptr<SyncStream>& stream) {
    auto* pipe = new GrpcPipe(context);  // OnDone deletes it
    pipe->stream_ = SyncStream::Open(surroundings, *pipe);
    stream = pipe->stream_;
    return pipe;
  }

  absl::StatusOr<Caller> Who(const Callers& callers) const override {
    return callers.Of(*context_.auth_context());
  }
  void Read(v1::SyncRequest& request) override { StartRead(&request); }
  void Write(const v1::SyncResponse& response, Urgency urgency) override {
    grpc::WriteOptions options;
    if (urgency == Urgency::kWithNext) options.set_buffer_hint();
    StartWrite(&response, options);
  }
  void Finish(const absl::Status& status) override {
    ServerBidiReactor::Finish(ToGrpc(status, context_));
  }

  void OnReadDone(bool ok) override { stream_->OnReadDone(ok); }
  void OnWriteDone(bool ok) override { stream_->OnWriteDone(ok); }
  void OnCancel() override { stream_->OnCancel(); }
  void OnDone() override {
    stream_->OnDone();
    delete this;
  }

 private:
  explicit GrpcPipe(grpc::CallbackServerContext& context) : context_(context) {}

  grpc::CallbackServerContext& context_;
  std::shared_ptr<SyncStream> stream_;
};

}  // namespace

grpc::ServerBidiReactor<v1::SyncRequest, v1::SyncResponse>* SyncService::Sync(
    grpc::CallbackServerContext* context) {
  std::shared_ptr<SyncStream> stream;
  GrpcPipe* const pipe = GrpcPipe::Open(surroundings_, *context, stream);
  bool stopping = false;
  {
    const std::lock_guard lock(mutex_);
    std::erase_if(streams_, [](const std::weak_ptr<SyncStream>& each) { return each.expired(); });
    streams_.push_back(stream);
    stopping = stopping_;
  }
  if (stopping) stream->Stop();
  return pipe;
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
