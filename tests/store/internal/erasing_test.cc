// Goal: what is erased is gone, what lies beside it is not, and a disk that fails afterwards, while
// RocksDB merges what is left, is an error and not the end of the process.
// Method: a database of its own on a disk whose merged files cannot be synced.

#include "client/store/internal/erasing.h"

#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "gtest/gtest.h"
#include "rocksdb/env.h"
#include "rocksdb/file_system.h"

#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

// A file that fails at being synced if a merging wrote it: that writes with low priority.
class MergedFile final : public rocksdb::FSWritableFileOwnerWrapper {
 public:
  using FSWritableFileOwnerWrapper::FSWritableFileOwnerWrapper;

  void SetIOPriority(rocksdb::Env::IOPriority priority) override {
    merged_ = priority == rocksdb::Env::IO_LOW;
    target()->SetIOPriority(priority);
  }
  rocksdb::IOStatus Sync(const rocksdb::IOOptions& options,
                         rocksdb::IODebugContext* context) override {
    return merged_ ? rocksdb::IOStatus::NoSpace("full") : target()->Sync(options, context);
  }

 private:
  bool merged_ = false;
};

class FailingFiles final : public rocksdb::FileSystemWrapper {
 public:
  FailingFiles() : FileSystemWrapper(rocksdb::FileSystem::Default()) {}

  const char* Name() const override { return "FailingFiles"; }

  rocksdb::IOStatus NewWritableFile(const std::string& name, const rocksdb::FileOptions& options,
                                    std::unique_ptr<rocksdb::FSWritableFile>* file,
                                    rocksdb::IODebugContext* context) override {
    std::unique_ptr<rocksdb::FSWritableFile> real;
    rocksdb::IOStatus status = target()->NewWritableFile(name, options, &real, context);
    if (status.ok()) *file = std::make_unique<MergedFile>(std::move(real));
    return status;
  }
};

struct Trial {
  TempFolder folder;
  std::unique_ptr<Disk> disk = rocksdb::NewCompositeEnv(std::make_shared<FailingFiles>());
  std::unique_ptr<Database> database =
      Database::Open(folder.path(), Access::kReadWrite, disk.get()).value();

  void Put(const std::vector<std::string>& keys) const {
    rocksdb::WriteBatch writes;
    for (const std::string& key : keys) writes.Put(database->part(Part::kState), key, "value");
    Write(writes);
  }
  void Write(rocksdb::WriteBatch& writes) const {
    ASSERT_TRUE(database->db().Write(rocksdb::WriteOptions(), &writes).ok());
    ASSERT_TRUE(database->db().Flush(rocksdb::FlushOptions(), database->part(Part::kState)).ok());
  }
  std::vector<std::string> Keys() const {
    std::vector<std::string> keys;
    const auto iterator = database->Iterate(Part::kState, rocksdb::ReadOptions());
    for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) {
      keys.push_back(iterator->key().ToString());
    }
    return keys;
  }
};

TEST(EraseRange, LeavesWhatLiesBeforeAndBehind) {
  const Trial trial;
  trial.Put({"a", "b1", "b2", "c"});
  rocksdb::WriteBatch writes;
  EraseRange(*trial.database, Part::kState, "b", "c", writes);
  trial.Write(writes);
  EXPECT_EQ(trial.Keys(), (std::vector<std::string>{"a", "c"}));
}

TEST(EraseRange, TakesOneEntryForMoreThanABatchHolds) {
  const Trial trial;
  trial.Put({"a", "b1", "b2", "b3", "c"});
  rocksdb::WriteBatch writes;
  EraseRange(*trial.database, Part::kState, "b", "c", writes, 2);
  EXPECT_EQ(writes.Count(), 1U);
  trial.Write(writes);
  EXPECT_EQ(trial.Keys(), (std::vector<std::string>{"a", "c"}));
}

TEST(EraseFrom, LeavesNothingFromThereOn) {
  const Trial trial;
  trial.Put({"a", "b", "\xFF\xFF"});
  rocksdb::WriteBatch writes;
  EraseFrom(*trial.database, Part::kState, "b", writes);
  trial.Write(writes);
  EXPECT_EQ(trial.Keys(), std::vector<std::string>{"a"});
}

TEST(EraseFrom, EndsNoProcessWhoseDiskFailsWhileWhatIsErasedIsMerged) {
  const Trial trial;
  trial.Put({"a", "b"});
  rocksdb::WriteBatch writes;
  EraseFrom(*trial.database, Part::kState, "", writes);
  trial.Write(writes);
  // With one entry for the whole range, RocksDB 7.8 aborts here.
  trial.database->db()
      .CompactRange(rocksdb::CompactRangeOptions(), trial.database->part(Part::kState), nullptr,
                    nullptr)
      .PermitUncheckedError();
  EXPECT_TRUE(trial.Keys().empty());
}

}  // namespace
}  // namespace broodpact::store
