#pragma once

// The snapshots of a server: the calls of SnapshotService, as a client makes them.

#include <cstdint>
#include <memory>
#include <string>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/signature.h"
#include "client/sync/connection.h"
#include "client/sync/snapshot.h"

namespace broodpact::sync {

// One server. Every call blocks.
// Errors of all: SERVER_AWAY and the server's own; UNIMPLEMENTED from a server without snapshots.
class Snapshots {
 public:
  virtual ~Snapshots() = default;

  // The snapshot after so many arrivals; 0: the one to start from.
  // Errors: NOT_FOUND with reason SNAPSHOT_NONE or SNAPSHOT_GONE; those of ReadOffer.
  virtual absl::StatusOr<SnapshotOffer> Offer(std::uint64_t arrivals) = 0;

  // A part of the manifest, unpacked; its bytes have been held against their hash.
  // Errors: DATA_LOSS with reason SNAPSHOT_FORM or PART_WRONG (not the bytes that the manifest
  // names).
  virtual absl::StatusOr<std::string> Fetch(const SnapshotManifest& manifest,
                                            std::uint32_t part) = 0;

  // Errors: those of SnapshotService.Attest.
  virtual absl::Status Attest(std::uint64_t arrivals, const Hash& root,
                              const Signature& signature) = 0;
};

// Over gRPC. Does not block.
// Errors: those of Connect.
absl::StatusOr<std::unique_ptr<Snapshots>> OpenSnapshots(const Credentials& credentials,
                                                         const Hash& cooperative,
                                                         std::int64_t now_ms);

}  // namespace broodpact::sync
