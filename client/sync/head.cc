#include "client/sync/head.h"

#include <limits>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "broodpact/v1/sync_service.pb.h"
#include "client/base/bytes.h"
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
  if (head.epoch > facts::kLastEpoch) return false;
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

std::string EncodeHead(const Head& head) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Unsigned(head.epoch);
  writer.Unsigned(head.point.arrivals);
  writer.Raw(ViewOf(head.point.log_hash));
  writer.Raw(ViewOf(head.tree_root));
  writer.Signed(head.time_ms);
  writer.Raw(ViewOf(head.signature));
  writer.Raw(ViewOf(head.server_key));
  return bytes;
}

std::optional<Head> DecodeHead(std::string_view bytes) {
  ByteReader reader(bytes);
  const std::uint64_t epoch = reader.Unsigned();
  Head head;
  head.point.arrivals = reader.Unsigned();
  const std::optional<Hash> log_hash = HashOfBytes(reader.Raw(head.point.log_hash.size()));
  const std::optional<Hash> tree_root = HashOfBytes(reader.Raw(head.tree_root.size()));
  head.time_ms = reader.Signed();
  const std::optional<Signature> signature = SignatureOfBytes(reader.Raw(head.signature.size()));
  const std::optional<PublicKey> server_key = PublicKeyOfBytes(reader.Raw(head.server_key.size()));
  if (!reader.ok() || !reader.at_end() || !log_hash || !tree_root || !signature || !server_key ||
      epoch > std::numeric_limits<std::uint32_t>::max()) {
    return std::nullopt;
  }
  head.epoch = static_cast<std::uint32_t>(epoch);
  head.point.log_hash = *log_hash;
  head.tree_root = *tree_root;
  head.signature = *signature;
  head.server_key = *server_key;
  return head;
}

}  // namespace broodpact::sync
