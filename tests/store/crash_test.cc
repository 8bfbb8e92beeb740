// Goal: an acknowledged batch survives whatever happens to the process or the disk, nothing is ever
// half there, and damage is said, never passed over.
// Method: a child process that appends until it is killed; files that are cut, flipped and filled
// up; then the log is held against the same made-up log, generated anew.

#include <array>
#include <csignal>
#include <fstream>
#include <iterator>

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/store/internal/database.h"
#include "client/store/store.h"
#include "tests/store/trial_log.h"
#include <fcntl.h>
#include <spawn.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

namespace broodpact::store {
namespace {

constexpr TrialShape kShape{.seed = 31};

// The batch sizes go round: of one live commit, of a few, and of several blocks.
std::size_t BatchSize(std::size_t batch) {
  constexpr std::array<std::size_t, 5> kSizes = {1, 1, 5, 150, 1};
  return kSizes.at(batch % kSizes.size());
}

// The made-up log, generated up to `arrivals`, which has to be the end of a batch. Returns how many
// batches that were; nothing if it is no such end.
std::optional<std::size_t> CatchUp(TrialLog& log, std::uint64_t arrivals) {
  std::size_t batches = 0;
  while (log.point().arrivals < arrivals) log.NextRange(BatchSize(batches++));
  if (log.point().arrivals != arrivals) return std::nullopt;
  return batches;
}

// Expects that the store holds a beginning of the made-up log, whole batches, nothing else.
void ExpectPrefix(const Store& store) {
  TrialLog log(kShape);
  const std::uint64_t arrivals = store.point().arrivals;
  ASSERT_TRUE(CatchUp(log, arrivals).has_value()) << "half a batch at " << arrivals;
  EXPECT_EQ(store.point(), log.point());
  for (const auto& [chain, head] : log.heads()) EXPECT_EQ(*store.HeadOf(chain), head);
  std::uint64_t seen = 0;
  const absl::Status status =
      store.VisitArrivals(1, arrivals, [&](std::uint64_t arrival, const StoredArrival& stored) {
        EXPECT_TRUE(Same(stored, log.arrivals()[arrival - 1].stored)) << arrival;
        ++seen;
        return absl::OkStatus();
      });
  EXPECT_TRUE(status.ok()) << status;
  EXPECT_EQ(seen, arrivals);
}

// The child's part: appends in the working directory, and says what was acknowledged.
TEST(CrashChild, DISABLED_AppendsUntilItIsKilled) {
  const auto store = OpenForWriting(std::filesystem::current_path());
  TrialLog log(kShape);
  const std::optional<std::size_t> batches = CatchUp(log, store->point().arrivals);
  ASSERT_TRUE(batches.has_value());
  for (std::size_t batch = *batches;; ++batch) {
    const Durability durability = batch % 3 == 0 ? Durability::kWritten : Durability::kSynced;
    const absl::Status status = log.AppendTo(*store, BatchSize(batch), durability);
    if (!status.ok()) return;
    if (batch % 40 == 39) BP_CHECK(store->Flush().ok());
    const std::string line = "\nacknowledged " + std::to_string(log.point().arrivals) + " .\n";
    if (write(STDOUT_FILENO, line.data(), line.size()) < 0) return;
  }
}

class Child {
 public:
  explicit Child(const std::filesystem::path& folder) {
    std::array<int, 2> ends{};
    BP_CHECK(pipe2(ends.data(), O_CLOEXEC) == 0);
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, ends[1], STDOUT_FILENO);
    posix_spawn_file_actions_addchdir_np(&actions, folder.c_str());
    std::string program = std::filesystem::read_symlink("/proc/self/exe").string();
    std::string filter = "--gtest_filter=CrashChild.*";
    std::string disabled = "--gtest_also_run_disabled_tests";
    std::array<char*, 4> arguments = {program.data(), filter.data(), disabled.data(), nullptr};
    BP_CHECK(
        posix_spawn(&process_, program.c_str(), &actions, nullptr, arguments.data(), environ) == 0);
    posix_spawn_file_actions_destroy(&actions);
    close(ends[1]);
    output_ = ends[0];
  }
  ~Child() { close(output_); }
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;

  // Reads until the child has acknowledged `count` times, kills it, and returns what it had
  // acknowledged last.
  std::uint64_t KillAfter(int count) {
    std::string text;
    while (Acknowledged(text).first < count && Read(text)) {
    }
    kill(process_, SIGKILL);
    while (Read(text)) {
    }
    waitpid(process_, nullptr, 0);
    return Acknowledged(text).second;
  }

 private:
  bool Read(std::string& text) const {
    std::array<char, 4096> bytes{};
    const ssize_t size = read(output_, bytes.data(), bytes.size());
    if (size <= 0) return false;
    text.append(bytes.data(), static_cast<std::size_t>(size));
    return true;
  }

  // How many whole acknowledgements there are, and the last one.
  static std::pair<int, std::uint64_t> Acknowledged(const std::string& text) {
    int count = 0;
    std::uint64_t last = 0;
    const std::string word = "\nacknowledged ";
    for (std::size_t at = text.find(word); at != std::string::npos; at = text.find(word, at + 1)) {
      const std::size_t number = at + word.size();
      const std::size_t end = text.find(" .", number);
      if (end == std::string::npos) break;
      ++count;
      last = std::stoull(text.substr(number, end - number));
    }
    return {count, last};
  }

  pid_t process_ = 0;
  int output_ = -1;
};

TEST(Crash, LosesNothingThatWasAcknowledged) {
  const TempFolder folder;
  for (const int acknowledgements : {1, 7, 30, 55, 101}) {
    const std::uint64_t acknowledged = Child(folder.path()).KillAfter(acknowledgements);
    ASSERT_GT(acknowledged, 0U);
    const auto store = OpenForWriting(folder.path());
    EXPECT_GE(store->point().arrivals, acknowledged);
    ExpectPrefix(*store);
  }
}

TEST(Crash, LeavesAReplicaThatReadersOpen) {
  const TempFolder folder;
  const std::uint64_t acknowledged = Child(folder.path()).KillAfter(20);
  const auto store = Store::Open(folder.path(), Access::kReadOnly);
  ASSERT_TRUE(store.ok()) << store.status();
  EXPECT_GE((*store)->point().arrivals, acknowledged);
  ExpectPrefix(**store);
}

// Appends `batches` batches of the made-up log.
void AppendBatches(Store& store, TrialLog& log, std::size_t batches) {
  for (std::size_t batch = 0; batch < batches; ++batch) {
    ASSERT_TRUE(log.AppendTo(store, BatchSize(batch)).ok());
  }
}

std::filesystem::path LargestFile(const std::filesystem::path& folder, std::string_view ending) {
  std::filesystem::path largest;
  for (const auto& entry : std::filesystem::directory_iterator(DatabaseFolder(folder))) {
    if (!entry.path().string().ends_with(ending)) continue;
    if (largest.empty() || entry.file_size() > std::filesystem::file_size(largest)) {
      largest = entry.path();
    }
  }
  return largest;
}

void FlipByte(const std::filesystem::path& file, std::uintmax_t place) {
  std::fstream stream(file, std::ios::in | std::ios::out | std::ios::binary);
  stream.seekg(static_cast<std::streamoff>(place));
  const auto byte = static_cast<char>(stream.get() ^ 0x40);
  stream.seekp(static_cast<std::streamoff>(place));
  stream.put(byte);
}

TEST(Damage, ToTheTailOfTheWriteAheadLogIsNoticed) {
  const TempFolder folder;
  {
    TrialLog log(kShape);
    AppendBatches(*OpenForWriting(folder.path()), log, 20);
  }
  const std::filesystem::path file = LargestFile(folder.path(), ".log");
  ASSERT_FALSE(file.empty());
  std::filesystem::resize_file(file, std::filesystem::file_size(file) - 10);
  const auto shorter = Store::Open(folder.path(), Access::kReadWrite);
  EXPECT_EQ(ReasonOf(shorter.status()), "LOG_SHORTER");

  std::filesystem::remove(folder.path() / "head");
  const auto store = OpenForWriting(folder.path());
  EXPECT_GT(store->point().arrivals, 0U);
  ExpectPrefix(*store);
}

TEST(Damage, ToATailThatWasNeverAcknowledgedIsWhatACrashLeaves) {
  const TempFolder folder;
  TrialLog log(kShape);
  AppendBatches(*OpenForWriting(folder.path()), log, 4);
  std::ofstream(LargestFile(folder.path(), ".log"), std::ios::app | std::ios::binary)
      << std::string("\x12\x34\x56\x78\x10\x00\x01torn", 11);
  const auto store = OpenForWriting(folder.path());
  EXPECT_EQ(store->point(), log.point());
  ExpectPrefix(*store);
}

TEST(Damage, WithinTheWriteAheadLogIsSaidAtOpening) {
  const TempFolder folder;
  {
    TrialLog log(kShape);
    AppendBatches(*OpenForWriting(folder.path()), log, 20);
  }
  const std::filesystem::path file = LargestFile(folder.path(), ".log");
  FlipByte(file, std::filesystem::file_size(file) / 2);
  for (const Access access : {Access::kReadWrite, Access::kReadOnly}) {
    const auto store = Store::Open(folder.path(), access);
    EXPECT_EQ(store.status().code(), absl::StatusCode::kDataLoss);
    EXPECT_EQ(ReasonOf(store.status()), "STORE_DAMAGED");
  }
}

TEST(Damage, ToAFileOfTheDatabaseIsReportedByItsName) {
  const TempFolder folder;
  TrialLog log(kShape);
  {
    const auto store = OpenForWriting(folder.path());
    AppendBatches(*store, log, 20);
    ASSERT_TRUE(store->Flush().ok());
    EXPECT_THAT(*store->CheckDisk(), testing::IsEmpty());
  }
  const std::filesystem::path file = LargestFile(folder.path(), ".sst");
  FlipByte(file, std::filesystem::file_size(file) / 3);

  const auto store = OpenForWriting(folder.path());
  const auto faults = store->CheckDisk();
  ASSERT_TRUE(faults.ok()) << faults.status();
  EXPECT_THAT(*faults, testing::Contains(testing::AllOf(
                           testing::HasSubstr(file.filename().string()),
                           testing::HasSubstr("'log'"), testing::Not(testing::HasSubstr("/")))));
  const auto slice = store->ReadLog(0, std::size_t{1} << 30U);
  EXPECT_EQ(ReasonOf(slice.status()), "STORE_DAMAGED");
}

// Fills whatever `folder` is on, and expects that nothing is lost and nothing half there;
// `make_room` takes the cause away.
void ExpectToSurviveAFullDisk(const std::filesystem::path& folder, std::unique_ptr<Store> store,
                              TrialLog log, const std::function<void()>& make_room) {
  absl::Status status;
  facts::LogPoint before;
  std::size_t batch = *CatchUp(log, log.point().arrivals);
  while (status.ok() && log.point().arrivals < 100'000) {
    before = log.point();
    status = log.AppendTo(*store, BatchSize(batch++));
  }
  EXPECT_EQ(status.code(), absl::StatusCode::kResourceExhausted) << status;
  EXPECT_EQ(ReasonOf(status), "DISK_FULL");
  EXPECT_THAT(std::string(status.message()), testing::HasSubstr("free some space"));
  EXPECT_EQ(store->point(), before);
  ExpectPrefix(*store);  // reading goes on
  EXPECT_EQ(ReasonOf(store->PutMeta("name", std::string(200'000, 'x'))), "DISK_FULL");

  make_room();
  EXPECT_EQ(ReasonOf(store->Flush()), "DISK_FULL");  // not before it is opened again
  store.reset();
  const auto again = OpenForWriting(folder);
  EXPECT_EQ(again->point(), before);
  EXPECT_TRUE(again->PutMeta("name", "value").ok());
  ExpectPrefix(*again);
}

class FileSizeLimit {
 public:
  explicit FileSizeLimit(rlim_t bytes) {
    getrlimit(RLIMIT_FSIZE, &before_);
    previous_ = std::signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{.rlim_cur = bytes, .rlim_max = before_.rlim_max};
    BP_CHECK(setrlimit(RLIMIT_FSIZE, &limit) == 0);
  }
  ~FileSizeLimit() { Lift(); }
  FileSizeLimit(const FileSizeLimit&) = delete;
  FileSizeLimit& operator=(const FileSizeLimit&) = delete;

  void Lift() {
    setrlimit(RLIMIT_FSIZE, &before_);
    std::signal(SIGXFSZ, previous_);
  }

 private:
  rlimit before_{};
  void (*previous_)(int) = nullptr;
};

TEST(FullDisk, ByALimitOnFileSizeLosesNothing) {
  const TempFolder folder;
  auto store = OpenForWriting(folder.path());
  FileSizeLimit limit(150'000);
  ExpectToSurviveAFullDisk(folder.path(), std::move(store), TrialLog(kShape),
                           [&] { limit.Lift(); });
}

TEST(FullDisk, OfASmallFileSystemLosesNothing) {
  const TempFolder folder;
  const std::filesystem::path disk = folder.path() / "disk";
  std::filesystem::create_directory(disk);
  if (mount("tmpfs", disk.c_str(), "tmpfs", 0, "size=2m") != 0) {
    GTEST_SKIP() << "no file system can be mounted here";
  }
  std::ofstream(disk / "ballast") << std::string(700'000, 'x');
  ExpectToSurviveAFullDisk(disk / "replica", OpenForWriting(disk / "replica"), TrialLog(kShape),
                           [&] { std::filesystem::remove(disk / "ballast"); });
  EXPECT_EQ(umount(disk.c_str()), 0);
}

TEST(FullDisk, IsSaidAtOpening) {
  const TempFolder folder;
  const FileSizeLimit limit(0);
  const auto store = Store::Open(folder.path(), Access::kReadWrite);
  EXPECT_EQ(ReasonOf(store.status()), "DISK_FULL") << store.status();
}

}  // namespace
}  // namespace broodpact::store
