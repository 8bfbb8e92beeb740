#pragma once

// What a replica keeps about snapshots, as small values of its store: what it started from, what
// state it came to at a snapshot's place by itself, and what did not fit.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/facts/arrival.h"
#include "client/store/store.h"

namespace broodpact::replica {

// A device that attests a snapshot.
struct Attester {
  DeviceId device{};
  KeeperId keeper{};
  std::string keeper_name{};

  friend bool operator==(const Attester&, const Attester&) = default;
};

// The snapshot that a replica started from. Its place is the store's base.
struct SnapshotOrigin {
  Hash root{};
  std::uint32_t fold_version = 0;
  std::vector<Attester> attesters{};

  friend bool operator==(const SnapshotOrigin&, const SnapshotOrigin&) = default;
};
inline constexpr char kMetaOrigin[] = "origin";
std::string EncodeOrigin(const SnapshotOrigin& origin);
// Nothing if there is none, or it cannot be read.
absl::StatusOr<std::optional<SnapshotOrigin>> ReadOrigin(const store::Store& database);

// The state that this replica folded the log to at the place of a snapshot.
struct OwnRoot {
  facts::LogPoint point{};
  Hash root{};
  std::uint32_t fold_version = 0;
  bool settled = false;  // it was held against the snapshot, or there is none any more

  friend bool operator==(const OwnRoot&, const OwnRoot&) = default;
};
inline constexpr char kMetaOwnRoot[] = "own_root";
absl::Status KeepOwnRoot(store::Store& database, const OwnRoot& own);
absl::StatusOr<std::optional<OwnRoot>> ReadOwnRoot(const store::Store& database);

// What did not fit, a sentence each; at most kSnapshotFaultsMax, the first ones. Kept for good.
inline constexpr std::size_t kSnapshotFaultsMax = 16;
inline constexpr char kMetaSnapshotFaults[] = "snapshot_faults";
absl::StatusOr<std::vector<std::string>> ReadSnapshotFaults(const store::Store& database);
absl::Status KeepSnapshotFault(store::Store& database, const std::string& fault);

// "mira, tomas and iva": the keepers, each once.
std::string KeepersOf(const std::vector<Attester>& attesters);

}  // namespace broodpact::replica
