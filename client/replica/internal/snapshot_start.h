#pragma once

// Starts a replica from a snapshot: finds out whose word it is, holds what comes against it, and
// begins the log there. What the attesting devices say is assumed from then on, until the history
// has been fetched and folded (replica_history.cc).
//
// A device's attestation counts if the device is a member's by the vouchers and by the state
// itself, was not cut off by either, and its signature holds.

#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/chain.h"
#include "client/replica/internal/snapshot_notes.h"
#include "client/store/state_digest.h"
#include "client/store/store.h"
#include "client/sync/snapshots.h"

namespace broodpact::replica {

class SnapshotStart {
 public:
  // Both outlive this.
  SnapshotStart(store::Store& database, sync::Snapshots& server, const Hash& cooperative)
      : store_(database), server_(server), cooperative_(cooperative) {}

  struct Started {
    facts::LogPoint point{};
    std::vector<Attester> attesters{};
  };

  // Blocks. Begins the store, which is empty, or leaves it empty. `progress` is told how many parts
  // have come, of how many; may be empty.
  // Errors: NOT_FOUND with reason SNAPSHOT_NONE; FAILED_PRECONDITION with reason ATTESTED_BY_FEW or
  // FOLD_OTHER (of another version of this program): there is none to start from. DATA_LOSS with
  // reason SNAPSHOT_OTHER (what came is not what is attested or signed): it is not to be trusted;
  // those of sync::Snapshots, VouchedDevices and Store::BeginAt.
  using Progress = std::function<void(std::uint64_t parts, std::uint64_t all)>;
  absl::StatusOr<Started> Run(const Progress& progress);

 private:
  absl::Status CheckOffer() const;
  absl::StatusOr<std::vector<Attester>> FindAttesters();
  absl::StatusOr<std::map<facts::ChainId, facts::ChainHead>> FetchHeads();
  absl::StatusOr<store::StoredSubjects> NextSubjects();
  absl::Status CheckState();
  absl::StatusOr<std::string> FetchPart(std::size_t part);

  store::Store& store_;
  sync::Snapshots& server_;
  const Hash cooperative_;
  sync::SnapshotOffer offer_;
  Hash root_{};
  std::vector<Attester> attesters_;
  store::Beginning beginning_;  // what the store begins with, once all of the state has come
  Progress progress_;
  std::uint64_t parts_come_ = 0;

  // Of the state as it comes.
  std::size_t next_part_ = 0;
  std::string last_key_;
  store::StateHasher hasher_;
  std::map<DeviceId, registry::DeviceState> devices_;
};

}  // namespace broodpact::replica
