#pragma once

// The open database: RocksDB with the parts of a replica, and who may hold it.

#include <array>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"
#include "rocksdb/db.h"

#include "client/store/internal/options.h"
#include "client/store/store.h"

namespace broodpact::store {

class Database {
 public:
  // Opens the database in `folder`/db. Errors: those of Store::Open.
  static absl::StatusOr<std::unique_ptr<Database>> Open(const std::filesystem::path& folder,
                                                        Access access, Disk* disk = nullptr);
  ~Database();

  rocksdb::DB& db() const { return *db_; }
  rocksdb::ColumnFamilyHandle* part(Part part) const {
    return handles_.at(static_cast<std::size_t>(part));
  }
  const std::vector<rocksdb::ColumnFamilyHandle*>& parts() const { return handles_; }

  // The value of a key; nothing if there is none. Errors: STORE_DAMAGED, STORE_READ.
  absl::StatusOr<std::optional<std::string>> Get(Part part, std::string_view key) const;

  // An iterator over a part as it is now. Its status() is to be asked after
  // the loop: it stops early at damage.
  std::unique_ptr<rocksdb::Iterator> Iterate(Part part, const rocksdb::ReadOptions& options) const;

 private:
  Database() = default;

  std::unique_ptr<rocksdb::DB> db_;
  std::vector<rocksdb::ColumnFamilyHandle*> handles_;
};

inline rocksdb::Slice SliceOf(std::string_view bytes) {
  return {bytes.data(), bytes.size()};
}
inline std::string_view TextOf(const rocksdb::Slice& slice) {
  return {slice.data(), slice.size()};
}

// The folder of RocksDB's own files.
std::filesystem::path DatabaseFolder(const std::filesystem::path& folder);

}  // namespace broodpact::store
