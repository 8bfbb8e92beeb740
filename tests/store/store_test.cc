// Goal: a replica keeps what it was given across openings, lets one process write and others read,
// and refuses what it cannot read, each with a reason and an advice.
// Method: openings of the same folder, in sequence and side by side.

#include "client/store/store.h"

#include <filesystem>
#include <fstream>
#include <vector>

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "rocksdb/db.h"

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/store/internal/database.h"
#include "client/store/internal/keys.h"
#include "tests/store/trial_log.h"

namespace broodpact::store {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::Not;

std::string MessageOf(const absl::Status& status) {
  return std::string(status.message());
}

TEST(Store, OpensEmptyAtTheBeginningOfTheLog) {
  const TempFolder folder;
  const auto store = Store::Open(folder.path() / "replica", Access::kReadWrite);
  ASSERT_TRUE(store.ok()) << store.status();
  EXPECT_EQ((*store)->point(), facts::LogPoint{});
  EXPECT_EQ((*store)->folded(), 0U);
  EXPECT_EQ((*store)->ReadLog(0, 1000)->count, 0U);
  EXPECT_TRUE((*store)->Pending()->empty());
  EXPECT_EQ(*(*store)->StateDigest(), Hash{});
}

TEST(Store, KeepsTheCooperativeThatBeginsTheLog) {
  const TempFolder folder;
  const Hash cooperative = Sha256("hamorii-colima");
  ASSERT_TRUE(OpenForWriting(folder.path())->InitLog(cooperative).ok());
  const auto store = OpenForWriting(folder.path());
  EXPECT_EQ(store->point(), (facts::LogPoint{.arrivals = 0, .log_hash = cooperative}));
  EXPECT_EQ(*store->Meta(kCooperativeName), std::string(ViewOf(cooperative)));
}

TEST(Store, HasEverythingAgainAfterReopening) {
  const TempFolder folder;
  TrialLog log({.seed = 11});
  {
    const auto store = OpenForWriting(folder.path());
    ASSERT_TRUE(log.AppendTo(*store, 200).ok());
    ASSERT_TRUE(log.AppendTo(*store, 1, Durability::kWritten).ok());
    ASSERT_TRUE(store->PutMeta("server", "brood.example:7402").ok());
  }
  const auto store = OpenForWriting(folder.path());
  EXPECT_EQ(store->point(), log.point());
  EXPECT_EQ(store->folded(), log.point().arrivals);
  EXPECT_EQ(*store->Meta("server"), "brood.example:7402");
  EXPECT_FALSE(store->Meta("nothing")->has_value());
  for (std::size_t i = 0; i < log.arrivals().size(); ++i) {
    EXPECT_TRUE(Same(*store->ReadArrival(i + 1), log.arrivals()[i].stored)) << i;
  }
}

TEST(Store, StaysWholeThroughManyShortCommands) {
  const TempFolder folder;
  TrialLog log({.seed = 12, .run_max = 1});
  for (int command = 0; command < 40; ++command) {
    const auto store = OpenForWriting(folder.path());
    ASSERT_EQ(store->point(), log.point());
    ASSERT_TRUE(log.AppendTo(*store, 1).ok());
  }
  int log_files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(DatabaseFolder(folder.path()))) {
    if (entry.path().extension() == ".log") ++log_files;
  }
  EXPECT_LE(log_files, 34);  // each costs the next opening a little
  EXPECT_EQ(OpenForWriting(folder.path())->point(), log.point());
}

TEST(Store, RefusesASecondWriterAndNamesTheFirst) {
  const TempFolder folder;
  const auto first = OpenForWriting(folder.path());
  const auto second = Store::Open(folder.path(), Access::kReadWrite);
  ASSERT_FALSE(second.ok());
  EXPECT_EQ(second.status().code(), absl::StatusCode::kUnavailable);
  EXPECT_EQ(ReasonOf(second.status()), "REPLICA_BUSY");
  EXPECT_THAT(MessageOf(second.status()),
              AllOf(HasSubstr("another store_tests (process " + std::to_string(getpid())),
                    HasSubstr("wait for it, or stop it")));
}

TEST(Store, OpensForTheNextWriterOnceTheFirstIsGone) {
  const TempFolder folder;
  OpenForWriting(folder.path()).reset();
  EXPECT_FALSE(std::filesystem::exists(folder.path() / "holder"));
  EXPECT_TRUE(Store::Open(folder.path(), Access::kReadWrite).ok());
}

TEST(Store, LetsReadersInBesideAWriter) {
  const TempFolder folder;
  TrialLog log({.seed = 13});
  const auto writer = OpenForWriting(folder.path());
  ASSERT_TRUE(log.AppendTo(*writer, 100).ok());
  ASSERT_TRUE(writer->Flush().ok());
  ASSERT_TRUE(log.AppendTo(*writer, 100).ok());
  const facts::LogPoint then = log.point();

  const auto reader = Store::Open(folder.path(), Access::kReadOnly);
  ASSERT_TRUE(reader.ok()) << reader.status();
  EXPECT_EQ((*reader)->point(), then);
  ASSERT_TRUE(log.AppendTo(*writer, 100).ok());
  EXPECT_EQ((*reader)->point(), then);  // as it was when it was opened
  const auto slice = (*reader)->ReadLog(0, std::size_t{1} << 30U);
  ASSERT_TRUE(slice.ok()) << slice.status();
  EXPECT_EQ(slice->count, then.arrivals);
}

TEST(Store, ReaderKeepsItsFilesThoughTheWriterMergesThemAway) {
  const TempFolder folder;
  TrialLog log({.seed = 14});
  auto writer = OpenForWriting(folder.path());
  for (int i = 0; i < 3; ++i) {
    ASSERT_TRUE(log.AppendTo(*writer, 50).ok());
    ASSERT_TRUE(writer->Flush().ok());
  }
  const auto reader = Store::Open(folder.path(), Access::kReadOnly);
  ASSERT_TRUE(reader.ok()) << reader.status();
  const facts::LogPoint then = log.point();
  for (int i = 0; i < 12; ++i) {
    ASSERT_TRUE(log.AppendTo(*writer, 50).ok());
    ASSERT_TRUE(writer->Flush().ok());
  }
  writer.reset();
  for (std::uint64_t arrival = 1; arrival <= then.arrivals; ++arrival) {
    ASSERT_TRUE(Same(*(*reader)->ReadArrival(arrival), log.arrivals()[arrival - 1].stored));
  }
}

TEST(Store, SaysThatThereIsNoReplicaToRead) {
  const TempFolder folder;
  const auto reader = Store::Open(folder.path() / "nowhere", Access::kReadOnly);
  EXPECT_EQ(reader.status().code(), absl::StatusCode::kNotFound);
  EXPECT_EQ(ReasonOf(reader.status()), "REPLICA_MISSING");
  EXPECT_FALSE(std::filesystem::exists(folder.path() / "nowhere"));
}

TEST(Store, RefusesAReplicaOfANewerFormatAndLeavesItAlone) {
  const TempFolder folder;
  OpenForWriting(folder.path()).reset();
  {
    const auto database = Database::Open(folder.path(), Access::kReadWrite);
    ASSERT_TRUE(database.ok()) << database.status();
    ASSERT_TRUE((*database)
                    ->db()
                    .Put(rocksdb::WriteOptions(), (*database)->part(Part::kMeta),
                         SliceOf(kFormatName), Big64Text(kFormat + 1))
                    .ok());
  }
  for (const Access access : {Access::kReadWrite, Access::kReadOnly}) {
    const auto store = Store::Open(folder.path(), access);
    EXPECT_EQ(store.status().code(), absl::StatusCode::kFailedPrecondition);
    EXPECT_EQ(ReasonOf(store.status()), "REPLICA_NEWER");
    EXPECT_THAT(MessageOf(store.status()), HasSubstr("upgrade"));
  }
}

TEST(Store, RefusesAReplicaWithPartsThatItDoesNotKnow) {
  const TempFolder folder;
  OpenForWriting(folder.path()).reset();
  {
    const auto database = Database::Open(folder.path(), Access::kReadWrite);
    ASSERT_TRUE(database.ok()) << database.status();
    rocksdb::ColumnFamilyHandle* extra = nullptr;
    ASSERT_TRUE((*database)->db().CreateColumnFamily({}, "snapshots", &extra).ok());
    ASSERT_TRUE((*database)->db().DestroyColumnFamilyHandle(extra).ok());
  }
  const auto store = Store::Open(folder.path(), Access::kReadWrite);
  EXPECT_EQ(ReasonOf(store.status()), "REPLICA_NEWER");
}

TEST(Store, NoticesThatItsLogGotShorter) {
  const TempFolder folder;
  TrialLog log({.seed = 15});
  {
    const auto store = OpenForWriting(folder.path());
    ASSERT_TRUE(log.AppendTo(*store, 10).ok());
  }
  std::ofstream(folder.path() / "head")
      << log.point().arrivals + 1 << ' ' << ToHex(log.point().log_hash) << '\n';
  const auto store = Store::Open(folder.path(), Access::kReadOnly);
  EXPECT_EQ(store.status().code(), absl::StatusCode::kDataLoss);
  EXPECT_EQ(ReasonOf(store.status()), "LOG_SHORTER");
  std::filesystem::remove(folder.path() / "head");
  EXPECT_TRUE(Store::Open(folder.path(), Access::kReadOnly).ok());
}

TEST(Store, ShowsNoPathOfTheKeeperInItsErrors) {
  const TempFolder folder;
  OpenForWriting(folder.path()).reset();
  for (const auto& entry : std::filesystem::directory_iterator(DatabaseFolder(folder.path()))) {
    if (entry.path().filename().string().starts_with("MANIFEST")) {
      std::ofstream(entry.path(), std::ios::trunc) << "not a manifest";
    }
  }
  const auto store = Store::Open(folder.path(), Access::kReadWrite);
  ASSERT_FALSE(store.ok());
  EXPECT_EQ(ReasonOf(store.status()), "STORE_DAMAGED");
  EXPECT_THAT(MessageOf(store.status()), Not(HasSubstr(folder.path().string())));
}

TEST(Store, SaysThatADatabaseWithoutItsCurrentFileIsDamaged) {
  const TempFolder folder;
  OpenForWriting(folder.path()).reset();
  std::filesystem::remove(DatabaseFolder(folder.path()) / "CURRENT");
  for (const Access access : {Access::kReadWrite, Access::kReadOnly}) {
    const auto store = Store::Open(folder.path(), access);
    EXPECT_EQ(ReasonOf(store.status()), "STORE_DAMAGED");
    EXPECT_THAT(MessageOf(store.status()), HasSubstr("CURRENT"));
  }
}

TEST(Store, SaysThatADatabaseThatLostItsFirstRecordIsDamagedAndFoldsItAgain) {
  const TempFolder folder;
  OpenForWriting(folder.path()).reset();
  std::vector<std::filesystem::path> logs;
  for (const auto& entry : std::filesystem::directory_iterator(DatabaseFolder(folder.path()))) {
    if (entry.path().extension() == ".log") logs.push_back(entry.path());
  }
  ASSERT_TRUE(OpenForWriting(folder.path())->PutMeta("colour", "red").ok());
  for (const std::filesystem::path& log : logs) {
    std::filesystem::resize_file(log, 20);  // in the middle of the first record
  }

  const auto read = Store::Open(folder.path(), Access::kReadOnly);
  EXPECT_EQ(ReasonOf(read.status()), "STORE_DAMAGED") << read.status();
  const auto written = OpenForWriting(folder.path());
  EXPECT_EQ(*written->Meta("colour"), "red");
  EXPECT_LT(written->fold_version(), registry::kFoldVersion);
}

TEST(Store, SaysThatADatabaseThatLostWhoseLogItHasIsDamaged) {
  const TempFolder folder;
  TrialLog log({.seed = 16});
  ASSERT_TRUE(log.AppendTo(*OpenForWriting(folder.path()), 10).ok());
  {
    const auto database = Database::Open(folder.path(), Access::kReadWrite);
    ASSERT_TRUE(database.ok()) << database.status();
    ASSERT_TRUE((*database)
                    ->db()
                    .Delete(rocksdb::WriteOptions(), (*database)->part(Part::kMeta),
                            SliceOf(kCooperativeName))
                    .ok());
  }
  for (const Access access : {Access::kReadWrite, Access::kReadOnly}) {
    EXPECT_EQ(ReasonOf(Store::Open(folder.path(), access).status()), "STORE_DAMAGED");
  }
}

TEST(Snapshot, StaysAsItWas) {
  const TempFolder folder;
  const auto store = OpenForWriting(folder.path());
  const registry::SubjectKey key{.kind = registry::Kind::kAnimal, .id = {7}};
  const facts::Range none;
  Batch batch{.range = none};
  batch.changes = {{.key = key, .value = "before", .index_removed = {}, .index_added = {"n1"}}};
  ASSERT_TRUE(store->Append(batch).ok());
  const auto snapshot = store->Snapshot();
  batch.changes = {{.key = key, .value = "after", .index_removed = {"n1"}, .index_added = {"n2"}}};
  ASSERT_TRUE(store->Append(batch).ok());

  EXPECT_EQ(**snapshot->Subject(key), "before");
  EXPECT_EQ(*snapshot->IndexEntries("n", 9), std::vector<std::string>{"n1"});
  EXPECT_EQ(*snapshot->Subjects({key})->front(), "before");
  EXPECT_EQ(snapshot->SubjectsOfKind(registry::Kind::kAnimal, {}, 9)->front().value, "before");
  EXPECT_EQ(**store->Subject(key), "after");
  EXPECT_EQ(*store->IndexEntries("n", 9), std::vector<std::string>{"n2"});
}

}  // namespace
}  // namespace broodpact::store
