#include "client/sync/receiver.h"

#include <string>
#include <utility>

#include <fmt/format.h>

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/status.h"
#include "client/sync/chunk.h"
#include "client/sync/session.h"

namespace broodpact::sync {
namespace {

absl::Status OtherLogError(std::string_view what) {
  return Fail(absl::StatusCode::kDataLoss, "LOG_OTHER",
              fmt::format("the server tells another history than before: {}; nothing of it was "
                          "taken, ask the other keepers before you go on",
                          what));
}

}  // namespace

Receiver::Receiver(const Hash& cooperative, const facts::LogPoint& start, Inbox& inbox)
    : cooperative_(cooperative), inbox_(inbox) {
  present_.range.before = start;
  present_.range.after = start;
}

absl::Status Receiver::Receive(const v1::SyncResponse& message) {
  switch (message.kind_case()) {
    case v1::SyncResponse::kWelcome:
      return ReceiveWelcome(message.welcome());
    case v1::SyncResponse::kChunk:
      return ReceiveChunk(message.chunk());
    case v1::SyncResponse::kPushReceipt: {
      BP_ASSIGN_OR_RETURN(const Head head, CheckedHead(message.push_receipt().head()));
      inbox_.PutReceipt(
          {.chain_seq = message.push_receipt().chain_seq(), .arrivals = head.point.arrivals});
      return absl::OkStatus();
    }
    case v1::SyncResponse::kHead: {
      BP_ASSIGN_OR_RETURN(const Head head, CheckedHead(message.head()));
      return ReceiveHead(head);
    }
    case v1::SyncResponse::kEpochs: {
      BP_ASSIGN_OR_RETURN(Epochs epochs, ReadEpochs(message.epochs().epochs(), cooperative_));
      inbox_.PutEpochs(std::move(epochs));
      return absl::OkStatus();
    }
    case v1::SyncResponse::KIND_NOT_SET:
      return absl::OkStatus();  // of a newer server
  }
  return absl::OkStatus();
}

absl::Status Receiver::ReceiveWelcome(const v1::Welcome& welcome) {
  // Before any head: they say which of the earlier ones still hold.
  BP_ASSIGN_OR_RETURN(Epochs epochs, ReadEpochs(welcome.epochs(), cooperative_));
  inbox_.PutEpochs(std::move(epochs));
  BP_ASSIGN_OR_RETURN(const Head head, CheckedHead(welcome.head()));
  facts::ChainHead chain_head{.seq = welcome.chain_seq()};
  if (chain_head.seq > 0) {
    const std::optional<Hash> hash = HashOfBytes(welcome.chain_hash());
    if (!hash.has_value()) {
      return Fail(absl::StatusCode::kInvalidArgument, "ANSWER_FORM",
                  "the server's welcome has a hash of another length; it is no server for this "
                  "version");
    }
    chain_head.hash = *hash;
  }
  ServerState server{
      .chain_head = chain_head, .arrivals = head.point.arrivals, .time_ms = welcome.time_ms()};
  if (const auto hash = HashOfBytes(welcome.snapshot().log_hash())) {
    server.snapshot = {.arrivals = welcome.snapshot().arrivals(), .log_hash = *hash};
  }
  inbox_.PutWelcome(server);
  return ReceiveHead(head);
}

absl::Status Receiver::ReceiveChunk(const v1::LogChunk& chunk) {
  if (chunk.arrivals_before() != present_.range.after.arrivals) {
    return Fail(absl::StatusCode::kDataLoss, "LOG_ORDER",
                fmt::format("the server sent what follows arrival {} where {} was due; sync again",
                            chunk.arrivals_before(), present_.range.after.arrivals));
  }
  BP_ASSIGN_OR_RETURN(const std::string records, UnpackRecords(chunk.records_zstd()));
  BP_RETURN_IF_ERROR(facts::ReadOnto(present_.range, records));
  present_.bytes += records.size();
  // One more chunk must fit, so that no range is ever larger than the bounds.
  if (present_.range.arrivals.size() >= kRangeCommitsMax || present_.bytes >= kRangeBytesMax) {
    return HandOver(std::nullopt);
  }
  return absl::OkStatus();
}

absl::Status Receiver::ReceiveHead(const Head& head) {
  if (head.point.arrivals != present_.range.after.arrivals) return absl::OkStatus();
  if (head.point.log_hash != present_.range.after.log_hash) {
    return OtherLogError(
        fmt::format("its head at arrival {} is not of the log that it sent", head.point.arrivals));
  }
  return HandOver(head);
}

absl::StatusOr<Head> Receiver::CheckedHead(const v1::SignedHead& message) {
  // A head comes with the receipt of a push and once more with the log: it is verified once.
  std::string bytes = message.SerializeAsString();
  if (checked_ && bytes == checked_bytes_) return *checked_;
  BP_ASSIGN_OR_RETURN(const Head head, ReadHead(message, cooperative_));
  if (server_key_.has_value() && *server_key_ != head.server_key) {
    inbox_.PutHead(head);
    return OtherLogError("its log key changed in the middle of a session");
  }
  server_key_ = head.server_key;
  inbox_.PutHead(head);
  checked_ = head;
  checked_bytes_ = std::move(bytes);
  return head;
}

absl::Status Receiver::HandOver(std::optional<Head> head) {
  const facts::LogPoint end = present_.range.after;
  present_.head = head;
  const bool taken = inbox_.Put(std::exchange(present_, Received{}));
  present_.range.before = end;
  present_.range.after = end;
  if (taken) return absl::OkStatus();
  return Fail(absl::StatusCode::kCancelled, "SESSION_OVER", "the session is over");
}

}  // namespace broodpact::sync
