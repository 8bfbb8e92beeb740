// CheckDisk and StateDigest: the store against itself.

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "rocksdb/metadata.h"
#include "rocksdb/sst_file_reader.h"
#include <fmt/format.h>

#include "client/base/status.h"
#include "client/registry/index.h"
#include "client/store/internal/entries.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/keys.h"
#include "client/store/internal/rep.h"
#include "client/store/state_digest.h"
#include "client/store/store.h"

namespace broodpact::store {
namespace {

// More faults than that say no more than these.
constexpr std::size_t kFaultsMax = 100;

constexpr std::uint8_t kFirstKind = static_cast<std::uint8_t>(registry::Kind::kCooperative);
constexpr std::uint8_t kLastKind = static_cast<std::uint8_t>(registry::kKindLast);

// Collects what does not hold.
class DiskCheck {
 public:
  explicit DiskCheck(const Database& database)
      : database_(database), snapshot_(database.db().GetSnapshot()) {
    options_.snapshot = snapshot_;
    options_.fill_cache = false;
  }
  ~DiskCheck() { database_.db().ReleaseSnapshot(snapshot_); }
  DiskCheck(const DiskCheck&) = delete;
  DiskCheck& operator=(const DiskCheck&) = delete;

  void CheckFiles() {
    if (database_.db().VerifyChecksum(options_).ok()) return;
    std::vector<rocksdb::LiveFileMetaData> files;
    database_.db().GetLiveFilesMetaData(&files);
    for (const rocksdb::LiveFileMetaData& file : files) CheckFile(file);
    if (faults_.empty()) Report("a file of the database is damaged");
  }

  void CheckSubjects() {
    const auto iterator = database_.Iterate(Part::kState, options_);
    for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) {
      CheckSubject(TextOf(iterator->key()), TextOf(iterator->value()));
    }
    ReportError("the subjects", iterator->status());
  }

  // Every entry is distinct, and was found from its subject: where there are as many in the index,
  // the index has no others.
  void CheckIndex() {
    std::uint64_t stored = 0;
    const auto iterator = database_.Iterate(Part::kIndex, options_);
    for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) ++stored;
    ReportError("the index", iterator->status());
    if (stored == entries_found_) return;
    for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) {
      CheckEntry(TextOf(iterator->key()));
    }
    ReportError("the index", iterator->status());
  }

  std::vector<std::string> TakeFaults() && {
    if (faults_.size() > kFaultsMax) {
      const std::size_t more = faults_.size() - kFaultsMax;
      faults_.resize(kFaultsMax);
      faults_.push_back(fmt::format("and {} more", more));
    }
    return std::move(faults_);
  }

 private:
  void Report(std::string fault) { faults_.push_back(std::move(fault)); }

  void ReportError(std::string_view what, const rocksdb::Status& status) {
    if (status.ok()) return;
    Report(
        fmt::format("{} cannot be read to the end: {}", what, WithoutFolders(status.ToString())));
  }

  void CheckFile(const rocksdb::LiveFileMetaData& file) {
    rocksdb::SstFileReader reader{rocksdb::Options()};
    rocksdb::Status status = reader.Open(file.directory + "/" + file.relative_filename);
    if (status.ok()) status = reader.VerifyChecksum();
    if (status.ok()) return;
    Report(fmt::format("file {} of the part '{}' is damaged: {}", file.relative_filename,
                       file.column_family_name, WithoutFolders(status.ToString())));
  }

  void CheckSubject(std::string_view key, std::string_view value) {
    const std::optional<IdBytes> id =
        key.size() == registry::kSubjectKeySize ? IdOfBytes(key.substr(1)) : std::nullopt;
    if (!id.has_value()) return Report("a subject has a key of the wrong length");
    const auto kind = static_cast<registry::Kind>(key.front());
    const std::optional<std::vector<std::string>> entries = EntriesOf(kind, value);
    if (!entries.has_value()) {
      return Report(fmt::format("the subject {} (kind {}) is malformed", IdText(*id),
                                static_cast<int>(kind)));
    }
    for (const std::string& entry : *entries) {
      if (HasEntry(entry)) {
        ++entries_found_;
      } else {
        Report(fmt::format("the index '{}' does not have the subject {} (kind {})", entry.front(),
                           IdText(*id), static_cast<int>(kind)));
      }
    }
  }

  bool HasEntry(const std::string& entry) {
    rocksdb::PinnableSlice value;
    return database_.db().Get(options_, database_.part(Part::kIndex), entry, &value).ok();
  }

  void CheckEntry(std::string_view entry) {
    const IdBytes id = registry::IdOfEntry(entry);
    for (std::uint8_t kind = kFirstKind; kind <= kLastKind; ++kind) {
      const registry::SubjectKey key{.kind = static_cast<registry::Kind>(kind), .id = id};
      rocksdb::PinnableSlice value;
      if (!database_.db()
               .Get(options_, database_.part(Part::kState), SliceOf(StateKey(key).view()), &value)
               .ok()) {
        continue;
      }
      const auto entries = EntriesOf(key.kind, TextOf(value));
      if (entries.has_value() &&
          std::find(entries->begin(), entries->end(), entry) != entries->end()) {
        return;
      }
    }
    Report(fmt::format("the index '{}' has an entry for {} that the subject does not answer to",
                       entry.front(), IdText(id)));
  }

  const Database& database_;
  const rocksdb::Snapshot* snapshot_;
  rocksdb::ReadOptions options_;
  std::uint64_t entries_found_ = 0;
  std::vector<std::string> faults_;
};

}  // namespace

absl::StatusOr<std::vector<std::string>> Store::CheckDisk() const {
  DiskCheck check(*rep_->database);
  check.CheckFiles();
  check.CheckSubjects();
  check.CheckIndex();
  return std::move(check).TakeFaults();
}

absl::StatusOr<Hash> Store::StateDigest() const {
  rocksdb::ReadOptions options;
  options.fill_cache = false;
  StateHasher hasher;
  const auto iterator = rep_->database->Iterate(Part::kState, options);
  for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) {
    hasher.Add(TextOf(iterator->key()), TextOf(iterator->value()));
  }
  BP_RETURN_IF_ERROR(FromRocks(iterator->status(), Doing::kReading));
  return hasher.Finish();
}

}  // namespace broodpact::store
