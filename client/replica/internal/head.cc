#include "client/replica/internal/head.h"

#include <limits>

#include "client/base/bytes.h"

namespace broodpact::replica {

std::string EncodeHead(const sync::Head& head) {
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

std::optional<sync::Head> DecodeHead(std::string_view bytes) {
  ByteReader reader(bytes);
  const std::uint64_t epoch = reader.Unsigned();
  sync::Head head;
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

}  // namespace broodpact::replica
