#include "client/store/store.h"

#include <memory>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/holder.h"
#include "client/store/internal/keys.h"
#include "client/store/internal/reading.h"
#include "client/store/internal/rep.h"

namespace broodpact::store {
namespace {

// What an opening may have to replay, at most: more is flushed at the end of the process.
constexpr std::uint64_t kReplayBytesMax = std::uint64_t{1} << 20U;
constexpr int kReplayFilesMax = 32;

// Files of the newest level of a part. A short command ends before RocksDB has merged them in the
// background, and each costs every opening some microseconds.
constexpr std::uint64_t kNewestLevelFilesMax = 12;

bool ReplayIsLong(const std::filesystem::path& folder) {
  std::error_code error;
  std::uint64_t bytes = 0;
  int files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(DatabaseFolder(folder), error)) {
    if (entry.path().extension() != ".log") continue;
    ++files;
    bytes += entry.file_size(error);
  }
  return bytes > kReplayBytesMax || files > kReplayFilesMax;
}

void MergeNewestLevels(const Database& database) {
  for (rocksdb::ColumnFamilyHandle* part : database.parts()) {
    std::string files;
    database.db().GetProperty(part, rocksdb::DB::Properties::kNumFilesAtLevelPrefix + "0", &files);
    if (std::strtoull(files.c_str(), nullptr, 10) < kNewestLevelFilesMax) continue;
    // Whatever goes wrong here costs time at the next opening, and nothing else.
    database.db()
        .CompactRange(rocksdb::CompactRangeOptions(), part, nullptr, nullptr)
        .PermitUncheckedError();
  }
}

class SnapshotSource final : public Reading {
 public:
  explicit SnapshotSource(const Database& database)
      : Reading(database, database.db().GetSnapshot()) {}
  ~SnapshotSource() override { database().db().ReleaseSnapshot(snapshot()); }
  SnapshotSource(const SnapshotSource&) = delete;
  SnapshotSource& operator=(const SnapshotSource&) = delete;
};

}  // namespace

void Store::Rep::PutFoldVersion(rocksdb::WriteBatch& writes) {
  fold_version = registry::kFoldVersion;
  writes.Put(database->part(Part::kMeta), SliceOf(kFoldVersionName), Big64Text(fold_version));
}

absl::Status Store::Rep::BeginFormat() {
  const std::unique_ptr<rocksdb::Iterator> kept =
      database->Iterate(Part::kMeta, rocksdb::ReadOptions());
  kept->SeekToFirst();
  BP_RETURN_IF_ERROR(FromRocks(kept->status(), Doing::kReading));
  const bool was_used = kept->Valid() || ReadHeadFile(folder).has_value();
  if (access == Access::kReadOnly) {
    return was_used ? Damaged("the first that was written to its database is missing") : Missing();
  }
  rocksdb::WriteBatch batch;
  batch.Put(database->part(Part::kMeta), SliceOf(kFormatName), Big64Text(kFormat));
  // What folded a database that was used is not known any more: it is folded again.
  if (!was_used) PutFoldVersion(batch);
  return Write(batch, Durability::kSynced);
}

absl::Status Store::Rep::LoadFormat() {
  BP_ASSIGN_OR_RETURN(std::optional<std::string> stored, database->Get(Part::kMeta, kFormatName));
  if (!stored.has_value()) return BeginFormat();
  const std::optional<std::uint64_t> format = ParseBig64(*stored);
  if (!format.has_value()) return Damaged("its format number is malformed");
  if (*format <= kFormat) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "REPLICA_NEWER",
              fmt::format("this replica has format {}, and this version of Broodpact reads up to "
                          "{}; upgrade it",
                          *format, kFormat));
}

absl::Status Store::Rep::Load() {
  BP_RETURN_IF_ERROR(LoadFormat());
  BP_ASSIGN_OR_RETURN(std::optional<std::string> stored, database->Get(Part::kMeta, kPointName));
  if (stored.has_value()) {
    const std::optional<facts::LogPoint> decoded = DecodePoint(*stored);
    if (!decoded.has_value()) return Damaged("its place in the log is malformed");
    point = *decoded;
  }
  BP_ASSIGN_OR_RETURN(stored, database->Get(Part::kMeta, kCooperativeName));
  // Both are written at once: what wrote them, and only that of the two, is gone.
  if (point.arrivals > 0 && !stored) return Damaged("whose log it has is missing from it");
  BP_RETURN_IF_ERROR(LoadBeginning());
  synced = point;
  folded = point.arrivals;
  BP_ASSIGN_OR_RETURN(stored, database->Get(Part::kMeta, kFoldedName));
  if (stored.has_value()) {
    const std::optional<std::uint64_t> decoded = ParseBig64(*stored);
    if (!decoded.has_value()) return Damaged("its place in the fold is malformed");
    folded = *decoded;
  }
  BP_ASSIGN_OR_RETURN(stored, database->Get(Part::kMeta, kFoldVersionName));
  if (stored.has_value()) {
    const std::optional<std::uint64_t> decoded = ParseBig64(*stored);
    if (!decoded.has_value()) return Damaged("the version of its fold is malformed");
    fold_version = *decoded;
  }
  return absl::OkStatus();
}

Store::Store(std::unique_ptr<Rep> rep) : rep_(std::move(rep)) {}

absl::StatusOr<std::unique_ptr<Store>> Store::Open(const std::filesystem::path& folder,
                                                   Access access, Disk* disk) {
  // Read before the database is: a writer beside this reader may move both on in between.
  const std::optional<facts::LogPoint> head = ReadHeadFile(folder);
  auto rep = std::make_unique<Rep>();
  rep->folder = folder;
  rep->access = access;
  BP_ASSIGN_OR_RETURN(rep->database, Database::Open(folder, access, disk));
  BP_RETURN_IF_ERROR(rep->Load());
  if (head.has_value() && rep->point.arrivals < head->arrivals) {
    return Fail(absl::StatusCode::kDataLoss, "LOG_SHORTER",
                fmt::format("the replica had {} arrivals on disk and now has {}: the disk lost the "
                            "newest; restore its folder from a backup, or remove the file `head` "
                            "in it to go on without them, and then `broodpact sync`",
                            head->arrivals, rep->point.arrivals));
  }
  if (access == Access::kReadOnly) return std::unique_ptr<Store>(new Store(std::move(rep)));
  WriteHolder(folder);
  BP_RETURN_IF_ERROR(rep->LoadTree());
  std::unique_ptr<Store> store(new Store(std::move(rep)));
  if (store->rep_->tree.size() != store->point().arrivals) BP_RETURN_IF_ERROR(store->RegrowTree());
  return store;
}

Store::~Store() {
  if (rep_->access == Access::kReadOnly) return;
  if (rep_->write_error.ok()) {
    // An error here loses nothing that was acknowledged as synced, and there is nobody to tell.
    if (rep_->flush_begun || ReplayIsLong(rep_->folder)) Flush().IgnoreError();
    MergeNewestLevels(*rep_->database);
    if (rep_->synced != rep_->point && rep_->database->db().SyncWAL().ok()) {
      rep_->synced = rep_->point;
    }
    rep_->WriteHead();
  }
  RemoveHolder(rep_->folder);  // before the lock goes: after it, the file may be another's
}

facts::LogPoint Store::point() const {
  return rep_->Point();
}

std::uint64_t Store::folded() const {
  return rep_->Folded();
}

std::uint64_t Store::fold_version() const {
  return rep_->fold_version;
}

absl::StatusOr<std::optional<std::string>> Store::Subject(const registry::SubjectKey& key) const {
  return Reading(*rep_->database, nullptr).Subject(key);
}

absl::StatusOr<std::vector<std::string>> Store::IndexEntries(std::string_view prefix,
                                                             std::size_t count_max) const {
  return Reading(*rep_->database, nullptr).IndexEntries(prefix, count_max);
}

absl::StatusOr<std::vector<registry::StoredSubject>> Store::SubjectsOfKind(
    registry::Kind kind, std::optional<IdBytes> after, std::size_t count_max) const {
  return Reading(*rep_->database, nullptr).SubjectsOfKind(kind, after, count_max);
}

absl::StatusOr<std::vector<std::optional<std::string>>> Store::Subjects(
    const std::vector<registry::SubjectKey>& keys) const {
  return Reading(*rep_->database, nullptr).Subjects(keys);
}

std::unique_ptr<registry::Source> Store::Snapshot() const {
  return std::make_unique<SnapshotSource>(*rep_->database);
}

std::unique_ptr<Pinned> Store::Pin() const {
  const std::lock_guard lock(rep_->mutex);
  return std::make_unique<Pinned>(*rep_->database, rep_->point, rep_->tree);
}

absl::StatusOr<std::optional<std::string>> Store::Meta(std::string_view name) const {
  return rep_->database->Get(Part::kMeta, name);
}

absl::StatusOr<facts::ChainHead> Store::HeadOf(const facts::ChainId& chain) const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> value,
                      rep_->database->Get(Part::kChains, HeadKey(chain).view()));
  if (!value.has_value()) return facts::ChainHead{};
  const std::optional<facts::ChainHead> head = DecodeHead(*value);
  if (!head.has_value()) return Damaged("the head of a chain is malformed");
  return *head;
}

absl::Status Store::Flush() {
  rocksdb::FlushOptions options;
  options.wait = true;
  BP_RETURN_IF_ERROR(rep_->write_error);
  rep_->write_error =
      FromRocks(rep_->database->db().Flush(options, rep_->database->parts()), Doing::kWriting);
  BP_RETURN_IF_ERROR(rep_->write_error);
  rep_->flush_begun = false;
  rep_->synced = rep_->Point();
  rep_->WriteHead();
  return absl::OkStatus();
}

void Store::BeginFlush() {
  if (!rep_->write_error.ok()) return;
  rocksdb::FlushOptions options;
  // On a disk that a simulation lays, the order of what is written is part of its history.
  options.wait = rep_->database->db().GetEnv() != rocksdb::Env::Default();
  // Else it would wait for room first.
  options.allow_write_stall = true;
  // Refused while several are under way, which is no error: what is left is done at the end.
  rep_->database->db().Flush(options, rep_->database->parts()).PermitUncheckedError();
  rep_->flush_begun = true;
}

}  // namespace broodpact::store
