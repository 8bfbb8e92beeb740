#include "client/sync/head.h"

#include <optional>
#include <string>

#include "absl/status/status.h"

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/hash.h"
#include "client/base/status.h"

namespace broodpact::sync {

Head SignHead(const Signer& log_key, const Hash& cooperative, std::uint32_t epoch,
              const facts::LogPoint& point, std::int64_t time_ms) {
  return {.epoch = epoch,
          .point = point,
          .time_ms = time_ms,
          .signature = log_key.Sign(facts::HeadMessage(cooperative, epoch, point, time_ms)),
          .server_key = log_key.public_key()};
}

void Write(const Head& head, v1::SignedHead& message) {
  message.set_epoch(head.epoch);
  message.set_arrivals(head.point.arrivals);
  message.set_log_hash(std::string(ViewOf(head.point.log_hash)));
  message.set_time_ms(head.time_ms);
  message.set_signature(std::string(ViewOf(head.signature)));
  message.set_server_key(std::string(ViewOf(head.server_key)));
}

absl::StatusOr<Head> ReadHead(const v1::SignedHead& message, const Hash& cooperative) {
  const std::optional<Hash> log_hash = HashOfBytes(message.log_hash());
  const std::optional<Signature> signature = SignatureOfBytes(message.signature());
  const std::optional<PublicKey> server_key = PublicKeyOfBytes(message.server_key());
  if (log_hash.has_value() && signature.has_value() && server_key.has_value()) {
    const Head head{.epoch = message.epoch(),
                    .point = {.arrivals = message.arrivals(), .log_hash = *log_hash},
                    .time_ms = message.time_ms(),
                    .signature = *signature,
                    .server_key = *server_key};
    const std::string signed_bytes =
        facts::HeadMessage(cooperative, head.epoch, head.point, head.time_ms);
    if (VerifySignature(head.server_key, signed_bytes, head.signature)) return head;
  }
  return Fail(absl::StatusCode::kPermissionDenied, "HEAD_SIGNATURE_BAD",
              "the server's signature under the head of its log is not good; nothing that follows "
              "it was taken");
}

}  // namespace broodpact::sync
