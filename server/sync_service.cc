#include "server/sync_service.h"

#include <algorithm>

#include <fmt/format.h>
#include <grpcpp/grpcpp.h>

#include "client/base/status.h"
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
  const absl::StatusOr<Caller> caller = pipe->Who(surroundings_.callers);
  if (!caller.ok()) return pipe;  // has been refused
  const absl::Status entered = Enter(stream, caller->device);
  if (!entered.ok()) stream->End(entered);
  return pipe;
}

absl::Status SyncService::Enter(const std::shared_ptr<SyncStream>& stream, const DeviceId& device) {
  const std::lock_guard lock(mutex_);
  if (stopping_) return StoppingError();
  std::erase_if(streams_, [](const Open& each) { return each.stream.expired(); });
  if (std::ranges::count(streams_, device, &Open::device) >= kStreamsOfOneMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "TOO_MANY_STREAMS",
                fmt::format("this device has {} streams open already; end one of its programs that "
                            "follow the log",
                            kStreamsOfOneMax));
  }
  streams_.push_back({.stream = stream, .device = device});
  return absl::OkStatus();
}

void SyncService::Stop() {
  std::vector<Open> streams;
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    streams = streams_;
  }
  for (const Open& each : streams) {
    if (const std::shared_ptr<SyncStream> stream = each.stream.lock()) stream->End(StoppingError());
  }
}

}  // namespace broodpact::server
