#include "client/sync/key_list.h"

#include <optional>

#include "client/base/hash.h"

namespace broodpact::sync {

std::string EncodeKeys(const std::vector<PublicKey>& keys) {
  std::string bytes;
  for (const PublicKey& key : keys) bytes.append(ViewOf(key));
  return bytes;
}

std::vector<PublicKey> DecodeKeys(std::string_view bytes) {
  std::vector<PublicKey> keys;
  for (;;) {
    const std::optional<PublicKey> key = PublicKeyOfBytes(bytes.substr(0, sizeof(PublicKey)));
    if (!key) return keys;
    keys.push_back(*key);
    bytes.remove_prefix(sizeof(PublicKey));
  }
}

}  // namespace broodpact::sync
