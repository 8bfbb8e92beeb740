#include "client/sync/head.h"

#include <optional>
#include <string>

#include "absl/status/status.h"

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/hash.h"
#include "client/base/status.h"

namespace broodpact::sync {

Head SignHead(const Signer& log_key, const Hash& cooperative, const facts::HeadClaim& claim) {
  Head head;
  static_cast<facts::HeadClaim&>(head) = claim;
  head.signature = log_key.Sign(facts::HeadMessage(cooperative, claim));
  head.server_key = log_key.public_key();
  return head;
}

bool VerifyHead(const Head& head, const Hash& cooperative) {
  return VerifySignature(head.server_key, facts::HeadMessage(cooperative, head), head.signature);
}

void Write(const Head& head, v1::SignedHead& message) {
  message.set_epoch(head.epoch);
  message.set_arrivals(head.point.arrivals);
  message.set_log_hash(std::string(ViewOf(head.point.log_hash)));
  message.set_tree_root(std::string(ViewOf(head.tree_root)));
  message.set_time_ms(head.time_ms);
  message.set_signature(std::string(ViewOf(head.signature)));
  message.set_server_key(std::string(ViewOf(head.server_key)));
}

absl::StatusOr<Head> ReadHead(const v1::SignedHead& message, const Hash& cooperative) {
  const std::optional<Hash> log_hash = HashOfBytes(message.log_hash());
  const std::optional<Hash> tree_root = HashOfBytes(message.tree_root());
  const std::optional<Signature> signature = SignatureOfBytes(message.signature());
  const std::optional<PublicKey> server_key = PublicKeyOfBytes(message.server_key());
  if (log_hash && tree_root && signature && server_key) {
    Head head;
    head.epoch = message.epoch();
    head.point = {.arrivals = message.arrivals(), .log_hash = *log_hash};
    head.tree_root = *tree_root;
    head.time_ms = message.time_ms();
    head.signature = *signature;
    head.server_key = *server_key;
    if (VerifyHead(head, cooperative)) return head;
  }
  return Fail(absl::StatusCode::kPermissionDenied, "HEAD_SIGNATURE_BAD",
              "the server's signature under the head of its log is not good; nothing that follows "
              "it was taken");
}

}  // namespace broodpact::sync
