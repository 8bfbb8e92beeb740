#pragma once

// Snapshots of the state, for new devices to start from: when one is due, where they are kept, and
// who attests them.
//
// In a folder beside the database, one folder a snapshot, named by its arrivals:
//
//   manifest         v1.SnapshotManifest
//   part-0, part-1   what the manifest names, as it is sent
//   attestations     v1.OfferResponse with attestations alone; missing: none yet
//
// A snapshot is written under another name, flushed, and renamed. The newest two are kept: whoever
// fetches one when the next is written gets the rest of it.

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "absl/status/statusor.h"

#include "client/store/store.h"
#include "client/sync/snapshot.h"
#include "server/callers.h"
#include "server/log.h"

namespace broodpact::server {

// How much the log grows from one snapshot to the next: what a new device fetches after it has
// started is less than that, and a device that syncs now and then meets one of them.
inline constexpr std::uint64_t kSnapshotArrivals = 10'000;
inline constexpr std::size_t kSnapshotsKept = 2;

// Thread-safe.
class Snapshots {
 public:
  struct Surroundings {
    const store::Store& store;  // outlives this, as the log does
    const Log& log;
    std::filesystem::path folder;
    std::uint64_t interval = kSnapshotArrivals;  // 0: none are written
  };

  // Reads what is kept; what is not of this log, or of another version of the fold, is removed.
  static std::unique_ptr<Snapshots> Open(const Surroundings& surroundings);
  ~Snapshots();
  Snapshots(const Snapshots&) = delete;
  Snapshots& operator=(const Snapshots&) = delete;

  // From the thread that writes the log, between two batches: begins a snapshot of the state as it
  // is now, if one is due. Another thread writes it.
  void OnWritten();

  // One that is kept.
  struct Kept {
    sync::SnapshotManifest manifest;
    std::vector<sync::Attestation> attestations;
  };
  std::optional<facts::LogPoint> NewestPlace() const;
  // Errors: NOT_FOUND with reason SNAPSHOT_NONE or SNAPSHOT_GONE.
  absl::StatusOr<Kept> At(std::uint64_t arrivals) const;
  // All, the newest first.
  std::vector<Kept> All() const;

  // A part of what is sent of a part.
  // Errors: SNAPSHOT_GONE; INVALID_ARGUMENT with reason SLICE_RANGE; UNAVAILABLE with reason
  // FILE_READ.
  absl::StatusOr<std::string> ReadSlice(std::uint64_t arrivals, std::uint32_t part,
                                        std::uint64_t offset) const;

  // Keeps the word of the caller's device, in the place of an earlier one of it.
  // Errors: SNAPSHOT_GONE; FAILED_PRECONDITION with reason ROOT_OTHER; PERMISSION_DENIED with
  // reason ATTESTATION_SIGNATURE_BAD; RESOURCE_EXHAUSTED with reason ATTESTATIONS_FULL; those of
  // writing a file.
  absl::Status Attest(const Caller& caller, std::uint64_t arrivals, const Hash& root,
                      const Signature& signature);

  // Breaks off what is being written, and begins no other one.
  void Stop();

 private:
  explicit Snapshots(const Surroundings& surroundings);

  void Load();
  void Work();
  absl::StatusOr<Kept> Write(const store::Pinned& pinned) const;
  void Keep(Kept kept);
  const Kept* Find(std::uint64_t arrivals) const;  // with mutex_ held
  std::filesystem::path FolderOf(std::uint64_t arrivals) const;

  const Surroundings surroundings_;
  std::atomic<std::uint64_t> due_{0};  // arrivals at which the next one is
  std::atomic<bool> stopping_{false};

  mutable std::mutex mutex_;  // guards all below
  std::condition_variable changed_;
  std::vector<Kept> kept_;                  // the newest first
  std::unique_ptr<store::Pinned> waiting_;  // to be written
  std::thread writer_;
};

}  // namespace broodpact::server
