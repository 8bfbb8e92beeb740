#include "client/store/folder_lock.h"

#include <utility>

#include "rocksdb/env.h"

#include "client/base/status.h"
#include "client/store/internal/database.h"
#include "client/store/internal/errors.h"

namespace broodpact::store {
namespace {

// The lock that RocksDB itself takes.
class DatabaseLock final : public FolderLock {
 public:
  DatabaseLock(Disk& disk, rocksdb::FileLock* lock) : disk_(disk), lock_(lock) {}
  // It goes with the process too.
  ~DatabaseLock() override { disk_.UnlockFile(lock_).PermitUncheckedError(); }

 private:
  Disk& disk_;
  rocksdb::FileLock* const lock_;
};

}  // namespace

absl::StatusOr<std::unique_ptr<FolderLock>> FolderLock::Take(const std::filesystem::path& folder,
                                                             Disk* disk) {
  Disk& present = disk != nullptr ? *disk : *rocksdb::Env::Default();
  rocksdb::FileLock* lock = nullptr;
  if (!present.LockFile((DatabaseFolder(folder) / "LOCK").string(), &lock).ok()) {
    return Busy(folder);
  }
  return std::make_unique<DatabaseLock>(present, lock);
}

}  // namespace broodpact::store
