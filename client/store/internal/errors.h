#pragma once

// What RocksDB's errors mean to a keeper: which reason, which file, and what to do next.

#include <filesystem>
#include <string>
#include <string_view>

#include "absl/status/status.h"
#include "rocksdb/status.h"

namespace broodpact::store {

enum class Doing { kReading, kWriting };

// The error of a call that was reading or writing; OK stays OK.
//
// RESOURCE_EXHAUSTED with reason DISK_FULL; DATA_LOSS with reason STORE_DAMAGED, also where a file
// of the database is missing; otherwise UNAVAILABLE with reason STORE_READ or STORE_WRITE.
absl::Status FromRocks(const rocksdb::Status& status, Doing doing);

// DATA_LOSS with reason STORE_DAMAGED: `what` is damaged.
absl::Status Damaged(std::string_view what);

// RESOURCE_EXHAUSTED with reason DISK_FULL.
absl::Status DiskFull();

// NOT_FOUND with reason REPLICA_MISSING: nothing was ever stored there.
absl::Status Missing();

// UNAVAILABLE with reason REPLICA_BUSY: says who has the replica in `folder` open.
absl::Status Busy(const std::filesystem::path& folder);

// Whether opening failed because somebody else has the database open for writing.
bool IsBusy(const rocksdb::Status& status);

// Whether opening failed because the database has column families that this version does not know.
bool IsNewer(const rocksdb::Status& status);

// `message` with its paths cut down to file names: a path says who the keeper is.
std::string WithoutFolders(std::string_view message);

}  // namespace broodpact::store
