// Goal: every error of the database comes out with a reason and an advice, and without a path.
// Method: statuses as RocksDB 7.8 words them.

#include "client/store/internal/errors.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "client/base/status.h"

namespace broodpact::store {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

TEST(FromRocks, NamesAFullDiskHoweverItIsWorded) {
  for (const rocksdb::Status& status :
       {rocksdb::Status::NoSpace(),
        rocksdb::Status::IOError("While appending to file: /home/iva/r/db/000004.log",
                                 "File too large"),
        rocksdb::Status::IOError("While appending", "No space left on device"),
        rocksdb::Status::IOError("While appending", "Disk quota exceeded")}) {
    const absl::Status full = FromRocks(status, Doing::kWriting);
    EXPECT_EQ(full.code(), absl::StatusCode::kResourceExhausted);
    EXPECT_EQ(ReasonOf(full), "DISK_FULL");
  }
}

TEST(FromRocks, NamesTheDamagedFileAndTheWayOut) {
  const absl::Status damaged =
      FromRocks(rocksdb::Status::Corruption("block checksum mismatch: stored = 1, computed = 2  in "
                                            "/home/iva/replica/db/000012.sst offset 0 size 4096"),
                Doing::kReading);
  EXPECT_EQ(damaged.code(), absl::StatusCode::kDataLoss);
  EXPECT_EQ(ReasonOf(damaged), "STORE_DAMAGED");
  const std::string message(damaged.message());
  EXPECT_THAT(message, HasSubstr("000012.sst"));
  EXPECT_THAT(message, HasSubstr("`broodpact verify`"));
  EXPECT_THAT(message, HasSubstr("`broodpact rebuild`"));
  EXPECT_THAT(message, Not(HasSubstr("/home")));
}

TEST(FromRocks, TakesAFileThatIsMissingForDamage) {
  const rocksdb::Status status = rocksdb::Status::PathNotFound(
      "While opening a file for sequentially reading: /home/iva/r/db/MANIFEST-070103",
      "No such file or directory");
  for (const Doing doing : {Doing::kReading, Doing::kWriting}) {
    const absl::Status damaged = FromRocks(status, doing);
    EXPECT_EQ(damaged.code(), absl::StatusCode::kDataLoss);
    EXPECT_EQ(ReasonOf(damaged), "STORE_DAMAGED");
    EXPECT_THAT(std::string(damaged.message()), HasSubstr("MANIFEST-070103"));
  }
}

TEST(FromRocks, TellsReadingFromWriting) {
  const rocksdb::Status status = rocksdb::Status::IOError("While open a file", "Permission denied");
  EXPECT_EQ(ReasonOf(FromRocks(status, Doing::kReading)), "STORE_READ");
  EXPECT_EQ(ReasonOf(FromRocks(status, Doing::kWriting)), "STORE_WRITE");
  EXPECT_TRUE(FromRocks(rocksdb::Status::OK(), Doing::kReading).ok());
}

TEST(WithoutFolders, KeepsFileNamesAndEverythingElse) {
  EXPECT_EQ(WithoutFolders("IO error: in /a/b/000012.sst: bad"), "IO error: in 000012.sst: bad");
  EXPECT_EQ(WithoutFolders("two  spaces "), "two  spaces ");
  EXPECT_EQ(WithoutFolders(""), "");
}

}  // namespace
}  // namespace broodpact::store
