#pragma once

// Keeps everybody from opening a replica's folder for writing, while it is not open itself: it is
// to be put in another one's place.

#include <filesystem>
#include <memory>

#include "absl/status/statusor.h"

#include "client/store/store.h"

namespace broodpact::store {

class FolderLock {
 public:
  // The lock stays with the folder when it is renamed. `disk` as in Store::Open.
  // Errors: UNAVAILABLE with reason REPLICA_BUSY (it is open; the message names who has it).
  static absl::StatusOr<std::unique_ptr<FolderLock>> Take(const std::filesystem::path& folder,
                                                          Disk* disk);
  virtual ~FolderLock() = default;
};

}  // namespace broodpact::store
