#include "client/store/internal/database.h"

#include <algorithm>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/store/internal/errors.h"

namespace broodpact::store {
namespace {

// How often a reader tries again when the writer beside it has just deleted a file that the reader
// was about to open.
constexpr int kReadOnlyAttempts = 5;

absl::Status MakeFolder(const std::filesystem::path& folder) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (!error) return absl::OkStatus();
  if (error == std::errc::no_space_on_device) return DiskFull();
  return Fail(absl::StatusCode::kUnavailable, "STORE_WRITE",
              fmt::format("the replica's folder cannot be made ({}); check its permissions",
                          error.message()));
}

// Whether there is anything of a database in its folder.
bool HasDatabaseFiles(const std::filesystem::path& folder) {
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator(folder, error)) {
    const std::string name = entry.path().filename().string();
    if (name.ends_with(".sst") || name.ends_with(".log") || name.starts_with("MANIFEST")) {
      return true;
    }
  }
  return false;
}

// CURRENT names the newest manifest: without it there is no database, or a damaged one.
absl::Status CheckPresence(const std::filesystem::path& folder, Access access) {
  std::error_code error;
  if (std::filesystem::exists(folder / "CURRENT", error)) return absl::OkStatus();
  if (HasDatabaseFiles(folder)) return Damaged("file CURRENT of its database is missing");
  if (access == Access::kReadWrite) return absl::OkStatus();
  return Missing();
}

absl::Status OpeningError(const rocksdb::Status& status, const std::filesystem::path& folder,
                          Access access) {
  if (IsBusy(status)) return Busy(folder);
  if (IsNewer(status)) {
    return Fail(absl::StatusCode::kFailedPrecondition, "REPLICA_NEWER",
                "this replica was written by a newer version of Broodpact; upgrade this one");
  }
  return FromRocks(status, access == Access::kReadWrite ? Doing::kWriting : Doing::kReading);
}

}  // namespace

std::filesystem::path DatabaseFolder(const std::filesystem::path& folder) {
  return folder / "db";
}

absl::StatusOr<std::unique_ptr<Database>> Database::Open(const std::filesystem::path& folder,
                                                         Access access, Disk* disk) {
  const std::filesystem::path database_folder = DatabaseFolder(folder);
  if (access == Access::kReadWrite) BP_RETURN_IF_ERROR(MakeFolder(database_folder));
  BP_RETURN_IF_ERROR(CheckPresence(database_folder, access));

  std::unique_ptr<Database> database(new Database());
  rocksdb::DBOptions options = DatabaseOptions(access);
  if (disk != nullptr) options.env = disk;
  const std::vector<rocksdb::ColumnFamilyDescriptor> parts = PartDescriptors();
  rocksdb::DB* db = nullptr;
  rocksdb::Status status;
  if (access == Access::kReadWrite) {
    status = rocksdb::DB::Open(options, database_folder.string(), parts, &database->handles_, &db);
  } else {
    for (int attempt = 0; attempt < kReadOnlyAttempts; ++attempt) {
      status = rocksdb::DB::OpenForReadOnly(options, database_folder.string(), parts,
                                            &database->handles_, &db);
      if (status.ok()) break;
    }
  }
  database->db_.reset(db);
  if (!status.ok()) return OpeningError(status, folder, access);
  return database;
}

Database::~Database() {
  if (db_ == nullptr) return;
  for (rocksdb::ColumnFamilyHandle* handle : handles_) {
    db_->DestroyColumnFamilyHandle(handle).PermitUncheckedError();
  }
  // Whatever was acknowledged is in the log already: closing has nothing left to lose.
  db_->Close().PermitUncheckedError();
}

absl::StatusOr<std::optional<std::string>> Database::Get(Part part, std::string_view key) const {
  std::string value;
  const rocksdb::Status status =
      db_->Get(rocksdb::ReadOptions(), this->part(part), SliceOf(key), &value);
  if (status.IsNotFound()) return std::optional<std::string>();
  if (!status.ok()) return FromRocks(status, Doing::kReading);
  return std::optional<std::string>(std::move(value));
}

std::unique_ptr<rocksdb::Iterator> Database::Iterate(Part part,
                                                     const rocksdb::ReadOptions& options) const {
  return std::unique_ptr<rocksdb::Iterator>(db_->NewIterator(options, this->part(part)));
}

}  // namespace broodpact::store
