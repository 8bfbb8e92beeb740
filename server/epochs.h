#pragma once

// The epochs of the arrival log as the server keeps them.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/store/store.h"
#include "client/sync/epoch.h"

namespace broodpact::server {

// The small value of the store that holds them (client/sync/epoch.h).
inline constexpr std::string_view kEpochsName = "epochs";

// Errors: DATA_LOSS with reason STORE_DAMAGED; those of the store.
absl::StatusOr<sync::Epochs> ReadEpochs(const store::Store& store);

// The server whose place this one took, and up to where it had signed then.
struct Predecessor {
  PublicKey log_key{};
  std::uint64_t arrivals = 0;
};

// The small value of the store that holds it: key(32) arrivals(8, big-endian).
inline constexpr std::string_view kPredecessorName = "predecessor";
std::string EncodePredecessor(const Predecessor& predecessor);
// Nothing where there is none. Errors: as ReadEpochs.
absl::StatusOr<std::optional<Predecessor>> ReadPredecessor(const store::Store& store);

// Servers that nobody goes to any more: a registrar has shown a head of theirs. The small value of
// the store that holds their log keys (32 each), at most sync::kLeftServersMax.
inline constexpr std::string_view kLeftServersName = "left";
// Errors: those of the store.
absl::StatusOr<std::vector<PublicKey>> ReadLeftServers(const store::Store& store);

// Keeps one more; the newest sync::kLeftServersMax. Errors: those of the store.
absl::Status KeepLeftServer(store::Store& store, const PublicKey& log_key);

std::uint32_t PresentEpoch(const sync::Epochs& epochs);

}  // namespace broodpact::server
