#include "server/epochs.h"

#include <algorithm>
#include <optional>
#include <string>
#include <utility>

#include "client/base/status.h"
#include "client/sync/key_list.h"

namespace broodpact::server {

absl::StatusOr<sync::Epochs> ReadEpochs(const store::Store& store) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, store.Meta(kEpochsName));
  if (!bytes) return sync::Epochs();
  std::optional<sync::Epochs> epochs = sync::DecodeEpochs(*bytes);
  if (epochs) return *std::move(epochs);
  return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
              "the epochs of this server's log cannot be read; put its folder back from a backup");
}

std::string EncodePredecessor(const Predecessor& predecessor) {
  std::string bytes(ViewOf(predecessor.log_key));
  for (int shift = 56; shift >= 0; shift -= 8) {
    bytes.push_back(static_cast<char>((predecessor.arrivals >> shift) & 0xFFU));
  }
  return bytes;
}

absl::StatusOr<std::optional<Predecessor>> ReadPredecessor(const store::Store& store) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, store.Meta(kPredecessorName));
  if (!bytes) return std::optional<Predecessor>();
  Predecessor predecessor;
  const std::size_t key_size = predecessor.log_key.size();
  const auto key = PublicKeyOfBytes(std::string_view(*bytes).substr(0, key_size));
  if (!key || bytes->size() != key_size + sizeof(predecessor.arrivals)) {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                "whose place this server took cannot be read; put its folder back from a backup");
  }
  predecessor.log_key = *key;
  for (const char byte : std::string_view(*bytes).substr(key_size)) {
    predecessor.arrivals = (predecessor.arrivals << 8) | static_cast<std::uint8_t>(byte);
  }
  return std::optional<Predecessor>(predecessor);
}

absl::StatusOr<std::vector<PublicKey>> ReadLeftServers(const store::Store& store) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, store.Meta(kLeftServersName));
  return bytes ? sync::DecodeKeys(*bytes) : std::vector<PublicKey>();
}

absl::Status KeepLeftServer(store::Store& store, const PublicKey& log_key) {
  BP_ASSIGN_OR_RETURN(std::vector<PublicKey> keys, ReadLeftServers(store));
  if (std::ranges::find(keys, log_key) != keys.end()) return absl::OkStatus();
  if (keys.size() >= sync::kLeftServersMax) keys.erase(keys.begin());
  keys.push_back(log_key);
  return store.PutMeta(kLeftServersName, sync::EncodeKeys(keys));
}

std::uint32_t PresentEpoch(const sync::Epochs& epochs) {
  return epochs.empty() ? facts::kFirstEpoch : epochs.back().epoch;
}

}  // namespace broodpact::server
