#include "server/sync_service.h"

#include <algorithm>

#include <fmt/format.h>
#include <grpcpp/grpcpp.h>

#include "client/base/status.h"
#include "server/answer.h"
#include "server/sync_stream.h"

#ifdef __SANITIZE_THREAD__
#include <sanitizer/tsan_interface.h>
#endif

namespace broodpact::server {
namespace {

// What gRPC promises of a stream's callbacks, told to ThreadSanitizer: the locks that keep it are
// inside a library that is not instrumented. What came before an operation was started is there
// for the callback that it ends with; what all of them did, for the last.
class Order {
 public:
#ifdef __SANITIZE_THREAD__
  void BeforeOperation() {
    __tsan_release(&operations_);
  }
  void AtCallback() {
    __tsan_acquire(&operations_);
  }
  void AfterCallback() {
    __tsan_release(&callbacks_);
  }
  void AtLastCallback() {
    __tsan_acquire(&callbacks_);
  }

 private:
  char operations_ = 0;
  char callbacks_ = 0;
#else
  void BeforeOperation() {}
  void AtCallback() {}
  void AfterCallback() {}
  void AtLastCallback() {}
#endif
};

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
  void Read(v1::SyncRequest& request) override {
    order_.BeforeOperation();
    StartRead(&request);
  }
  void Write(const v1::SyncResponse& response, Urgency urgency) override {
    grpc::WriteOptions options;
    if (urgency == Urgency::kWithNext) options.set_buffer_hint();
    order_.BeforeOperation();
    StartWrite(&response, options);
  }
  void Finish(const absl::Status& status) override {
    order_.BeforeOperation();
    ServerBidiReactor::Finish(ToGrpc(status, context_));
  }

  // Before gRPC starts what was asked for while the stream was opened.
  void OnOpened() {
    order_.BeforeOperation();
    order_.AfterCallback();
  }
  void OnReadDone(bool ok) override {
    order_.AtCallback();
    stream_->OnReadDone(ok);
    order_.AfterCallback();
  }
  void OnWriteDone(bool ok) override {
    order_.AtCallback();
    stream_->OnWriteDone(ok);
    order_.AfterCallback();
  }
  void OnCancel() override {
    order_.AtCallback();
    stream_->OnCancel();
    order_.AfterCallback();
  }
  void OnDone() override {
    order_.AtLastCallback();
    stream_->OnDone();
    delete this;
  }

 private:
  explicit GrpcPipe(grpc::CallbackServerContext& context) : context_(context) {}

  grpc::CallbackServerContext& context_;
  std::shared_ptr<SyncStream> stream_;
  Order order_;
};

}  // namespace

grpc::ServerBidiReactor<v1::SyncRequest, v1::SyncResponse>* SyncService::Sync(
    grpc::CallbackServerContext* context) {
  std::shared_ptr<SyncStream> stream;
  GrpcPipe* const pipe = GrpcPipe::Open(surroundings_, *context, stream);
  const absl::StatusOr<Caller> caller = pipe->Who(surroundings_.callers);
  // Who is not known has been refused.
  const absl::Status entered = caller.ok() ? Enter(stream, caller->device) : absl::OkStatus();
  if (!entered.ok()) stream->End(entered);
  pipe->OnOpened();
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
