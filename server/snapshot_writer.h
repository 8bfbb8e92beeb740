#pragma once

// Writes the files of one snapshot.

#include <atomic>
#include <filesystem>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/store/pinned.h"
#include "client/store/store.h"
#include "client/sync/snapshot.h"

namespace broodpact::server {

class SnapshotWriter {
 public:
  // Writes into `folder`, which is empty. `stopping` breaks it off. All that is passed outlives
  // this.
  SnapshotWriter(const std::filesystem::path& folder, const std::atomic<bool>& stopping)
      : folder_(folder), stopping_(stopping) {}

  // Returns the manifest, which is written last.
  // Errors: UNAVAILABLE with reason STOPPING; those of reading the log and of writing files;
  // RESOURCE_EXHAUSTED with reason VOUCHERS_TOO_LONG or SNAPSHOT_TOO_LONG.
  absl::StatusOr<sync::SnapshotManifest> Run(const store::Store& database,
                                             const store::Pinned& pinned, const Hash& cooperative);

 private:
  absl::Status WriteVouchers(const store::Store& database, std::uint64_t arrivals);
  absl::Status AddTo(std::string& part, sync::PartKind kind, std::string_view key,
                     std::string_view value);
  absl::Status WritePart(std::string& part, sync::PartKind kind);
  absl::Status CheckGoesOn() const;

  const std::filesystem::path& folder_;
  const std::atomic<bool>& stopping_;
  sync::SnapshotManifest manifest_;
};

// Which file a part is in.
std::filesystem::path PartFile(const std::filesystem::path& folder, std::size_t part);

}  // namespace broodpact::server
