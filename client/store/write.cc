// The writing half of the store: one batch, all or nothing.

#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>

#include "rocksdb/write_batch.h"
#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/store/internal/blocks.h"
#include "client/store/internal/erasing.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/holder.h"
#include "client/store/internal/keys.h"
#include "client/store/internal/pending_value.h"
#include "client/store/internal/rep.h"
#include "client/store/store.h"

namespace broodpact::store {
namespace {

constexpr std::chrono::seconds kHeadInterval{1};

// What a record takes beside its commit: size, time, flag, signature.
constexpr std::size_t kRecordBytes = 76;
// What RocksDB adds to a key and a value, and the key, generously.
constexpr std::size_t kEntryBytes = 64;

std::size_t SizeOf(const std::vector<registry::Change>& changes) {
  std::size_t size = 0;
  for (const registry::Change& change : changes) {
    size += change.value.size() + kEntryBytes;
    for (const std::string& entry : change.index_removed) size += entry.size() + kEntryBytes;
    for (const std::string& entry : change.index_added) size += entry.size() + kEntryBytes;
  }
  return size;
}

// How large the batch grows: growing it bit by bit would copy a first sync several times.
std::size_t SizeOf(const Batch& batch) {
  std::size_t size = SizeOf(batch.changes) + batch.heads.size() * 2 * kEntryBytes + 1024;
  for (const std::string& bytes : batch.range.bytes) size += bytes.size() + kRecordBytes;
  return size;
}

// One change of the index.
struct IndexWrite {
  std::string_view entry;
  std::uint64_t beginning = 0;  // the first 8 bytes as a number: most comparisons end there
  bool added = false;
};

std::uint64_t BeginningOf(std::string_view entry) {
  std::uint64_t beginning = 0;
  for (std::size_t i = 0; i < sizeof(beginning); ++i) {
    beginning = (beginning << 8) | (i < entry.size() ? static_cast<std::uint8_t>(entry[i]) : 0U);
  }
  return beginning;
}

// The changes of the index in order of entry, and those of one entry in their own order.
std::vector<IndexWrite> IndexWritesOf(const std::vector<registry::Change>& changes) {
  std::vector<IndexWrite> index;
  for (const registry::Change& change : changes) {
    for (const std::string& entry : change.index_removed) {
      index.push_back({entry, BeginningOf(entry), false});
    }
    for (const std::string& entry : change.index_added) {
      index.push_back({entry, BeginningOf(entry), true});
    }
  }
  std::stable_sort(index.begin(), index.end(), [](const IndexWrite& a, const IndexWrite& b) {
    return a.beginning != b.beginning ? a.beginning < b.beginning : a.entry < b.entry;
  });
  return index;
}

// Keys go in sorted: RocksDB finds the place of each beside the one before.
void PutChanges(rocksdb::WriteBatch& writes, const Database& database,
                const std::vector<registry::Change>& changes) {
  for (const registry::Change& change : changes) {
    writes.Put(database.part(Part::kState), SliceOf(StateKey(change.key).view()), change.value);
  }
  for (const IndexWrite& write : IndexWritesOf(changes)) {
    if (write.added) {
      writes.Put(database.part(Part::kIndex), SliceOf(write.entry), rocksdb::Slice());
    } else {
      writes.Delete(database.part(Part::kIndex), SliceOf(write.entry));
    }
  }
}

// The segments of the chains of a range.
void PutSegments(rocksdb::WriteBatch& writes, const Database& database, const facts::Range& range) {
  rocksdb::ColumnFamilyHandle* part = database.part(Part::kChains);
  std::map<facts::ChainId, Segment> segments;
  std::uint64_t arrival = range.before.arrivals;
  for (const facts::Arrived& arrived : range.arrivals) {
    ++arrival;
    const facts::ChainId chain = facts::ChainOf(arrived.commit.header);
    const std::uint64_t seq = arrived.commit.header.seq;
    const auto [place, is_new] = segments.try_emplace(chain, seq, arrival);
    Segment& segment = place->second;
    if (is_new) continue;
    if (segment.Continues(seq)) {
      segment.Add(arrival);
      continue;
    }
    writes.Put(part, SliceOf(SegmentKey(chain, segment.first_seq()).view()), segment.value());
    segment = Segment(seq, arrival);
  }
  for (const auto& [chain, segment] : segments) {
    writes.Put(part, SliceOf(SegmentKey(chain, segment.first_seq()).view()), segment.value());
  }
}

// The commits of one chain in a range, by place.
std::map<std::uint64_t, Hash> HashesOf(const facts::Range& range, const facts::ChainId& chain) {
  std::map<std::uint64_t, Hash> hashes;
  for (const facts::Arrived& arrived : range.arrivals) {
    if (facts::ChainOf(arrived.commit.header) != chain) continue;
    hashes.emplace_hint(hashes.end(), arrived.commit.header.seq, arrived.commit.hash);
  }
  return hashes;
}

// The hash of a commit from its pending value: signature(64) commit.
std::optional<Hash> HashOfPending(std::string_view value) {
  constexpr std::size_t kSignatureSize = std::tuple_size_v<Signature>;
  if (value.size() < kSignatureSize) return std::nullopt;
  return Sha256(value.substr(kSignatureSize));
}

}  // namespace

facts::LogPoint Store::Rep::Point() const {
  const std::lock_guard lock(mutex);
  return point;
}

std::uint64_t Store::Rep::Folded() const {
  const std::lock_guard lock(mutex);
  return folded;
}

absl::Status Store::Rep::Write(rocksdb::WriteBatch& batch, Durability durability) {
  BP_CHECK(access == Access::kReadWrite);
  BP_RETURN_IF_ERROR(write_error);
  rocksdb::WriteOptions options;
  options.sync = durability == Durability::kSynced;
  write_error = FromRocks(database->db().Write(options, &batch), Doing::kWriting);
  return write_error;
}

void Store::Rep::Advance(const facts::LogPoint& after, MerkleFrontier tree_after,
                         Durability durability) {
  {
    const std::lock_guard lock(mutex);
    point = after;
    tree = std::move(tree_after);
    folded = after.arrivals;
  }
  if (durability != Durability::kSynced) return;
  synced = after;
  const auto now = std::chrono::steady_clock::now();
  if (now - head_written < kHeadInterval) return;
  head_written = now;
  WriteHead();
}

void Store::Rep::WriteHead() {
  WriteHeadFile(folder, synced);
}

void Store::Rep::PutRange(rocksdb::WriteBatch& writes, const Batch& batch) const {
  const facts::Range& range = batch.range;
  std::string value;
  BlockCutter cutter(range);
  std::size_t first = 0;
  while (!cutter.at_end()) {
    const Key key = BlockKey(range.before.arrivals + first);
    const std::size_t count = cutter.Next(value);
    writes.Put(database->part(Part::kLog), SliceOf(key.view()), value);
    EncodeVerdictBlock(batch.verdicts, first, count, value);
    writes.Put(database->part(Part::kVerdicts), SliceOf(key.view()), value);
    first += count;
  }
  PutSegments(writes, *database, range);
  for (const auto& [chain, head] : batch.heads) {
    writes.Put(database->part(Part::kChains), SliceOf(HeadKey(chain).view()), EncodeHead(head));
  }
  if (range.empty()) return;
  writes.Put(database->part(Part::kMeta), SliceOf(kPointName), EncodePoint(range.after));
}

// Another commit at the same place is no delivery: what is pending there is the other branch of a
// fork, and stays.
absl::Status Store::Rep::DeleteDelivered(rocksdb::WriteBatch& writes, const Batch& batch) const {
  for (const facts::ChainId& chain : batch.delivered) {
    const auto head = batch.heads.find(chain);
    if (head == batch.heads.end()) continue;
    const std::map<std::uint64_t, Hash> arrived = HashesOf(batch.range, chain);
    // Begins where the last delivery ended, so that a live session does not walk over the remains
    // of all that it delivered before.
    const auto from = pending_from.find(chain);
    const Key begin = PendingKey(chain, from == pending_from.end() ? 0 : from->second);
    const Key end = PendingKey(chain, head->second.seq + 1);
    const rocksdb::Slice end_slice = SliceOf(end.view());
    rocksdb::ReadOptions options;
    options.iterate_upper_bound = &end_slice;
    const auto iterator = database->Iterate(Part::kPending, options);
    for (iterator->Seek(SliceOf(begin.view())); iterator->Valid(); iterator->Next()) {
      const auto same = arrived.find(NumberAtEnd(TextOf(iterator->key())));
      if (same == arrived.end()) continue;
      if (HashOfPending(TextOf(iterator->value())) != same->second) continue;
      writes.Delete(database->part(Part::kPending), iterator->key());
    }
    BP_RETURN_IF_ERROR(FromRocks(iterator->status(), Doing::kReading));
  }
  return absl::OkStatus();
}

absl::Status Store::InitLog(const Hash& cooperative) {
  BP_CHECK(point().arrivals == 0);
  const facts::LogPoint begin{.arrivals = 0, .log_hash = cooperative};
  rocksdb::WriteBatch writes;
  writes.Put(rep_->database->part(Part::kMeta), SliceOf(kPointName), EncodePoint(begin));
  writes.Put(rep_->database->part(Part::kMeta), SliceOf(kCooperativeName),
             SliceOf(ViewOf(cooperative)));
  // A rebuild before there was a log left one in early replicas.
  writes.Delete(rep_->database->part(Part::kMeta), SliceOf(kFoldedName));
  BP_RETURN_IF_ERROR(rep_->Write(writes, Durability::kSynced));
  rep_->Advance(begin, MerkleFrontier(), Durability::kSynced);
  return absl::OkStatus();
}

absl::Status Store::Append(const Batch& batch) {
  const facts::Range& range = batch.range;
  BP_CHECK(batch.verdicts.size() == range.arrivals.size());
  const facts::LogPoint present = point();
  if (!range.empty() && range.before != present) {
    return Fail(
        absl::StatusCode::kAborted, "LOG_MOVED",
        fmt::format("the log has {} arrivals, and this range begins after {}; read it again",
                    present.arrivals, range.before.arrivals));
  }
  if (rep_->Folded() != present.arrivals) {
    return Fail(absl::StatusCode::kFailedPrecondition, "FOLD_UNFINISHED",
                fmt::format("a rebuild of this replica was broken off after {} of {} arrivals; run "
                            "`broodpact rebuild` again",
                            rep_->Folded(), present.arrivals));
  }

  rocksdb::WriteBatch writes(SizeOf(batch));
  rep_->PutRange(writes, batch);
  MerkleFrontier tree = rep_->tree;
  if (!range.empty()) {
    BP_ASSIGN_OR_RETURN(tree, rep_->PutTree(writes, range));
  }
  PutChanges(writes, *rep_->database, batch.changes);
  BP_RETURN_IF_ERROR(rep_->DeleteDelivered(writes, batch));
  PutMetaValues(writes, *rep_->database, batch.meta);
  BP_RETURN_IF_ERROR(rep_->Write(writes, batch.durability));

  for (const facts::ChainId& chain : batch.delivered) {
    const auto head = batch.heads.find(chain);
    if (head != batch.heads.end()) rep_->pending_from[chain] = head->second.seq + 1;
  }
  rep_->Advance(range.empty() ? present : range.after, std::move(tree), batch.durability);
  return absl::OkStatus();
}

absl::Status Store::AppendPending(const std::vector<PendingCommit>& commits) {
  return ReplacePending({}, commits);
}

absl::Status Store::ReplacePending(const std::vector<PendingCommit>& gone,
                                   const std::vector<PendingCommit>& commits) {
  rocksdb::WriteBatch writes;
  for (const PendingCommit& pending : gone) {
    writes.Delete(rep_->database->part(Part::kPending),
                  SliceOf(PendingKey(pending.chain, pending.seq).view()));
  }
  for (const PendingCommit& pending : commits) {
    writes.Put(rep_->database->part(Part::kPending),
               SliceOf(PendingKey(pending.chain, pending.seq).view()), PendingValue(pending));
    // Places that were delivered before may come back, after a device has begun a chain again.
    const auto from = rep_->pending_from.find(pending.chain);
    if (from != rep_->pending_from.end() && pending.seq < from->second) from->second = pending.seq;
  }
  return rep_->Write(writes, Durability::kSynced);
}

void PutMetaValues(rocksdb::WriteBatch& writes, const Database& database,
                   const std::map<std::string, std::string>& values) {
  for (const auto& [name, value] : values) {
    BP_CHECK(!IsStoresOwn(name));
    writes.Put(database.part(Part::kMeta), name, value);
  }
}

absl::Status Store::PutMeta(std::string_view name, std::string_view value, Durability durability) {
  BP_CHECK(!IsStoresOwn(name));
  rocksdb::WriteBatch writes;
  writes.Put(rep_->database->part(Part::kMeta), SliceOf(name), SliceOf(value));
  return rep_->Write(writes, durability);
}

absl::Status Store::ClearFold() {
  BP_RETURN_IF_ERROR(CheckHistory());
  rocksdb::WriteBatch writes;
  EraseFold(*rep_->database, writes);
  // A log without arrivals has nothing to fold again: it is folded as it is.
  if (point().arrivals > 0) {
    writes.Put(rep_->database->part(Part::kMeta), SliceOf(kFoldedName), Big64Text(0));
  }
  rep_->PutFoldVersion(writes);
  BP_RETURN_IF_ERROR(rep_->Write(writes, Durability::kSynced));
  const std::lock_guard lock(rep_->mutex);
  rep_->folded = 0;
  return absl::OkStatus();
}

absl::Status Store::AppendFold(std::uint64_t first_arrival,
                               const std::vector<registry::Verdict>& verdicts,
                               const std::vector<registry::Change>& changes) {
  BP_CHECK(first_arrival == rep_->Folded() + 1);
  const std::uint64_t folded = rep_->Folded() + verdicts.size();
  const std::uint64_t arrivals = point().arrivals;
  BP_CHECK(folded <= arrivals);

  rocksdb::WriteBatch writes(SizeOf(changes));
  std::string value;
  for (std::size_t first = 0; first < verdicts.size(); first += kBlockRecordsMax) {
    const std::size_t count = std::min(kBlockRecordsMax, verdicts.size() - first);
    EncodeVerdictBlock(verdicts, first, count, value);
    writes.Put(rep_->database->part(Part::kVerdicts),
               SliceOf(BlockKey(first_arrival - 1 + first).view()), value);
  }
  PutChanges(writes, *rep_->database, changes);
  if (folded == arrivals) {
    writes.Delete(rep_->database->part(Part::kMeta), SliceOf(kFoldedName));
  } else {
    writes.Put(rep_->database->part(Part::kMeta), SliceOf(kFoldedName), Big64Text(folded));
  }
  BP_RETURN_IF_ERROR(rep_->Write(writes, Durability::kWritten));
  const std::lock_guard lock(rep_->mutex);
  rep_->folded = folded;
  return absl::OkStatus();
}

}  // namespace broodpact::store
