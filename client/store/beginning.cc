// A log that begins in the middle: with the state at a place, and without what arrived before it.

#include <algorithm>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "rocksdb/write_batch.h"
#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/store/internal/entries.h"
#include "client/store/internal/erasing.h"
#include "client/store/internal/keys.h"
#include "client/store/internal/rep.h"
#include "client/store/store.h"

namespace broodpact::store {
namespace {

// Puts subjects, and the index entries that they answer to.
absl::Status PutSubjects(rocksdb::WriteBatch& writes, const Database& database,
                         const StoredSubjects& subjects) {
  std::vector<std::string> index;
  for (const auto& [key, value] : subjects) {
    std::optional<std::vector<std::string>> entries = EntriesOf(key.kind, value);
    if (!entries) {
      return Fail(absl::StatusCode::kDataLoss, "STATE_FORM",
                  fmt::format("the subject {} (kind {}) of the snapshot is malformed",
                              IdText(key.id), static_cast<int>(key.kind)));
    }
    std::move(entries->begin(), entries->end(), std::back_inserter(index));
    writes.Put(database.part(Part::kState), SliceOf(StateKey(key).view()), value);
  }
  std::sort(index.begin(), index.end());
  for (const std::string& entry : index) {
    writes.Put(database.part(Part::kIndex), SliceOf(entry), rocksdb::Slice());
  }
  return absl::OkStatus();
}

// Puts the place itself, and what is known of the log before it.
void PutPlace(rocksdb::WriteBatch& writes, const Database& database, const Beginning& beginning) {
  rocksdb::ColumnFamilyHandle* const chains = database.part(Part::kChains);
  for (const auto& [chain, head] : beginning.heads) {
    writes.Put(chains, SliceOf(HeadKey(chain).view()), EncodeHead(head));
  }
  for (const MerkleNode& peak : beginning.tree.Peaks()) {
    writes.Put(chains, SliceOf(TreeKey(peak.place).view()), SliceOf(ViewOf(peak.hash)));
  }
  writes.Put(chains, SliceOf(LogHashKey(beginning.point.arrivals).view()),
             SliceOf(ViewOf(beginning.point.log_hash)));
  rocksdb::ColumnFamilyHandle* const meta = database.part(Part::kMeta);
  PutMetaValues(writes, database, beginning.meta);
  writes.Put(meta, SliceOf(kTreeName), beginning.tree.Encode());
  writes.Put(meta, SliceOf(kBaseName), EncodePoint(beginning.point));
  writes.Put(meta, SliceOf(kPointName), EncodePoint(beginning.point));
  writes.Delete(meta, SliceOf(kBeginningName));
}

}  // namespace

absl::Status Store::Rep::LoadBeginning() {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> begun,
                      database->Get(Part::kMeta, kBeginningName));
  if (begun && access == Access::kReadOnly) {
    return Fail(absl::StatusCode::kUnavailable, "REPLICA_BEGINNING",
                "this replica is being begun from a snapshot by `broodpact join`; wait for it, or, "
                "if it was cut off, `broodpact sync`");
  }
  if (begun) return ClearBeginning();
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> stored,
                      database->Get(Part::kMeta, kBaseName));
  if (!stored) return absl::OkStatus();
  const std::optional<facts::LogPoint> decoded = DecodePoint(*stored);
  if (!decoded) {
    return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
                "this replica is damaged: the place where its log begins is malformed");
  }
  base = *decoded;
  return absl::OkStatus();
}

absl::Status Store::Rep::ClearBeginning() {
  rocksdb::WriteBatch writes;
  EraseFold(*database, writes);
  writes.Delete(database->part(Part::kMeta), SliceOf(kBeginningName));
  return Write(writes, Durability::kSynced);
}

absl::Status Store::Rep::HistoryMissing() const {
  return Fail(absl::StatusCode::kFailedPrecondition, "HISTORY_MISSING",
              fmt::format("this replica started from a snapshot, and the history up to arrival {} "
                          "is still to be fetched and checked; `broodpact sync` does it",
                          base.arrivals));
}

facts::LogPoint Store::base() const {
  const std::lock_guard lock(rep_->mutex);
  return rep_->base;
}

absl::Status Store::CheckHistory() const {
  return base().arrivals == 0 ? absl::OkStatus() : rep_->HistoryMissing();
}

absl::Status Store::BeginAt(const Beginning& beginning, const NextSubjects& next) {
  BP_CHECK(point().arrivals == 0 && point().log_hash != Hash{});
  BP_CHECK(beginning.point.arrivals > 0 && beginning.tree.size() == beginning.point.arrivals);
  {
    rocksdb::WriteBatch writes;
    writes.Put(rep_->database->part(Part::kMeta), SliceOf(kBeginningName),
               EncodePoint(beginning.point));
    BP_RETURN_IF_ERROR(rep_->Write(writes, Durability::kSynced));
  }
  absl::Status status;
  while (status.ok()) {
    const absl::StatusOr<StoredSubjects> subjects = next();
    status = subjects.status();
    if (!status.ok() || subjects->empty()) break;
    rocksdb::WriteBatch writes;
    status = PutSubjects(writes, *rep_->database, *subjects);
    if (status.ok()) status = rep_->Write(writes, Durability::kWritten);
  }
  if (!status.ok()) {
    // Where it cannot be cleared now, it is at the next opening, and nothing may be written before.
    if (absl::Status cleared = rep_->ClearBeginning(); !cleared.ok()) rep_->write_error = cleared;
    return status;
  }
  rocksdb::WriteBatch writes;
  PutPlace(writes, *rep_->database, beginning);
  BP_RETURN_IF_ERROR(rep_->Write(writes, Durability::kSynced));
  {
    const std::lock_guard lock(rep_->mutex);
    rep_->base = beginning.point;
  }
  rep_->Advance(beginning.point, beginning.tree, Durability::kSynced);
  return Flush();
}

}  // namespace broodpact::store
