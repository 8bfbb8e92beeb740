#include "client/sync/session.h"

#include <chrono>
#include <memory>
#include <stop_token>
#include <thread>

#include "absl/status/status.h"
#include <grpcpp/grpcpp.h>

#include "broodpact/v1/sync_service.grpc.pb.h"
#include "client/base/status.h"
#include "client/sync/exchange.h"
#include "client/sync/log_proofs.h"

namespace broodpact::sync {
namespace {

using Stream = grpc::ClientReaderWriter<v1::SyncRequest, v1::SyncResponse>;

// How long a server may take to end a stream that the client has closed.
constexpr std::chrono::milliseconds kFarewell{1'000};

// An exchange over a gRPC stream.
class Session {
 public:
  Session(const Credentials& credentials, Target& target, const Options& options)
      : credentials_(credentials),
        options_(options),
        exchange_(target, options,
                  [this](const v1::SyncRequest& request) { return stream_->Write(request); }) {}

  absl::StatusOr<Progress> Run(const std::shared_ptr<grpc::Channel>& channel) {
    const auto stub = v1::SyncService::NewStub(channel);
    stream_ = stub->Sync(&context_);
    const std::stop_callback cancel_on_stop(options_.stop, [this] { context_.TryCancel(); });
    exchange_.Greet();
    std::jthread reader([this] { Read(); });

    const absl::Status status = WorkOff();
    const bool ended = exchange_.Close();
    if (status.ok() && !ended) stream_->WritesDone();
    if (!status.ok() || !exchange_.AwaitEnd(kFarewell)) context_.TryCancel();
    reader.join();
    if (!status.ok()) return status;
    if (const auto growth = exchange_.growth()) {
      BP_RETURN_IF_ERROR(CheckGrowth(channel, growth->before, growth->after));
    }
    return exchange_.progress();
  }

 private:
  // The reading thread, until the stream ends.
  void Read() {
    v1::SyncResponse message;
    absl::Status status;
    while (status.ok() && stream_->Read(&message)) status = exchange_.Receive(message);
    if (!status.ok()) context_.TryCancel();
    const grpc::Status finished = stream_->Finish();
    if (status.ok()) status = FromGrpc(finished, context_, credentials_.address);
    exchange_.ReceiveEnd(status);
  }

  // The calling thread, until there is nothing to do or something fails.
  absl::Status WorkOff() {
    while (true) {
      BP_ASSIGN_OR_RETURN(const bool done, exchange_.WorkOff());
      if (done) return absl::OkStatus();
    }
  }

  const Credentials& credentials_;
  const Options& options_;
  grpc::ClientContext context_;
  std::unique_ptr<Stream> stream_;
  Exchange exchange_;
};

}  // namespace

absl::StatusOr<Progress> RunSession(const Credentials& credentials, Target& target,
                                    const Options& options) {
  BP_ASSIGN_OR_RETURN(const std::shared_ptr<grpc::Channel> channel,
                      Connect(credentials, options.now_ms));
  Session session(credentials, target, options);
  return session.Run(channel);
}

}  // namespace broodpact::sync
