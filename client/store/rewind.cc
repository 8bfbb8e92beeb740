// Takes the end of the log away again: after a loss of the server's that it could not make good,
// the log goes on otherwise from an earlier place.

#include <algorithm>
#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include "rocksdb/write_batch.h"
#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/status.h"
#include "client/store/internal/block_scan.h"
#include "client/store/internal/blocks.h"
#include "client/store/internal/erasing.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/holder.h"
#include "client/store/internal/keys.h"
#include "client/store/internal/pending_value.h"
#include "client/store/internal/rep.h"
#include "client/store/internal/tree_growth.h"
#include "client/store/store.h"

namespace broodpact::store {
namespace {

constexpr std::uint32_t kTreeLevelsMax = 48;

// Where each chain that loses commits loses them from.
struct Cut {
  std::uint64_t first_seq = 0;  // that goes
  Hash prev{};                  // of it: the hash of the commit that stays as the newest
};
using Cuts = std::map<facts::ChainId, Cut>;

absl::StatusOr<Cuts> CutsAfter(const Store& store, const facts::LogPoint& place) {
  Cuts cuts;
  BP_RETURN_IF_ERROR(store.VisitArrivals(
      place.arrivals + 1, store.point().arrivals,
      [&](std::uint64_t, const StoredArrival& stored) -> absl::Status {
        BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
        cuts.try_emplace(facts::ChainOf(commit.header),
                         Cut{.first_seq = commit.header.seq, .prev = commit.header.prev});
        return absl::OkStatus();
      }));
  return cuts;
}

// The first commits of a segment: those that arrived up to `arrivals`.
absl::StatusOr<std::optional<Segment>> Beginning(std::string_view value, std::uint64_t first_seq,
                                                 std::uint64_t arrivals) {
  ByteReader reader(value);
  std::uint64_t arrival = reader.Unsigned();
  std::optional<Segment> beginning;
  while (reader.ok() && arrival <= arrivals) {
    if (beginning) {
      beginning->Add(arrival);
    } else {
      beginning.emplace(first_seq, arrival);
    }
    if (reader.at_end()) break;
    arrival += reader.Unsigned();
  }
  if (!reader.ok()) return Damaged("the places of a chain are malformed");
  return beginning;
}

// One rewinding, as it goes into a batch.
class Rewinding {
 public:
  Rewinding(const Database& database, const facts::LogPoint& place, rocksdb::WriteBatch& writes)
      : database_(database), place_(place), writes_(writes) {}

  absl::Status Log(std::uint64_t arrivals) {
    EraseFrom(database_, Part::kLog, BlockKey(place_.arrivals).view(), writes_);
    if (place_.arrivals == 0) return absl::OkStatus();
    BlockScan scan(database_, Part::kLog, place_.arrivals - 1, arrivals);
    BP_ASSIGN_OR_RETURN(const bool found, scan.Next());
    const std::optional<LogBlock> block = found ? DecodeLogBlock(scan.value()) : std::nullopt;
    if (!block) return Damaged(fmt::format("the block of arrival {} is missing", place_.arrivals));
    const std::uint64_t count = place_.arrivals - scan.arrivals_before();
    if (count == block->count) return absl::OkStatus();
    return CutBlock(scan.arrivals_before(), *block, count);
  }

  absl::Status Chains(const Cuts& cuts) {
    for (const auto& [chain, cut] : cuts) {
      const Key head = HeadKey(chain);
      if (cut.first_seq == 1) {
        writes_.Delete(database_.part(Part::kChains), SliceOf(head.view()));
      } else {
        writes_.Put(database_.part(Part::kChains), SliceOf(head.view()),
                    EncodeHead({.seq = cut.first_seq - 1, .hash = cut.prev}));
      }
      BP_RETURN_IF_ERROR(Segments(chain, cut));
    }
    return absl::OkStatus();
  }

  // What is kept of the tree lies in whole subtrees: those that reach beyond the place go.
  void Tree(const MerkleFrontier& frontier) {
    for (std::uint32_t level = kTreeLevelMin; level < kTreeLevelsMax; ++level) {
      const Key begin = TreeKey({.level = level, .index = place_.arrivals >> level});
      const Key end = TreeKey({.level = level + 1, .index = 0});
      EraseRange(database_, Part::kChains, begin.view(), end.view(), writes_);
    }
    const Key begin = LogHashKey(place_.arrivals + 1);
    EraseRange(database_, Part::kChains, begin.view(), AfterPrefix("g"), writes_);
    writes_.Put(database_.part(Part::kMeta), SliceOf(kTreeName), frontier.Encode());
  }

  // The fold is of a log that is no more; it is made anew.
  void Fold() {
    EraseFold(database_, writes_);
    writes_.Put(database_.part(Part::kMeta), SliceOf(kPointName), EncodePoint(place_));
    if (place_.arrivals > 0) {
      writes_.Put(database_.part(Part::kMeta), SliceOf(kFoldedName), Big64Text(0));
    } else {
      writes_.Delete(database_.part(Part::kMeta), SliceOf(kFoldedName));
    }
  }

 private:
  // The place is the end of a run, so what is left of the block is closed.
  absl::Status CutBlock(std::uint64_t before, const LogBlock& block, std::uint64_t count) {
    facts::ArrivalReader reader(block.records);
    std::string value;
    ByteWriter(value).Unsigned(count * 2 + 1);
    for (std::uint64_t i = 0; i < count; ++i) {
      BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
      facts::AppendArrival(value, arrival);
    }
    writes_.Put(database_.part(Part::kLog), SliceOf(BlockKey(before).view()), value);
    return absl::OkStatus();
  }

  absl::Status Segments(const facts::ChainId& chain, const Cut& cut) {
    const std::string prefix(SegmentPrefix(chain).view());
    const std::string end = AfterPrefix(prefix);
    const rocksdb::Slice end_slice = SliceOf(end);
    rocksdb::ReadOptions options;
    options.iterate_upper_bound = &end_slice;
    const auto iterator = database_.Iterate(Part::kChains, options);
    iterator->SeekForPrev(SliceOf(SegmentKey(chain, cut.first_seq).view()));
    if (!iterator->Valid() || !TextOf(iterator->key()).starts_with(prefix)) {
      iterator->Seek(SliceOf(prefix));
    }
    for (; iterator->Valid(); iterator->Next()) {
      const std::uint64_t first_seq = NumberAtEnd(TextOf(iterator->key()));
      BP_ASSIGN_OR_RETURN(const std::optional<Segment> rest,
                          Beginning(TextOf(iterator->value()), first_seq, place_.arrivals));
      if (rest) {
        writes_.Put(database_.part(Part::kChains), iterator->key(), rest->value());
      } else {
        writes_.Delete(database_.part(Part::kChains), iterator->key());
      }
    }
    return FromRocks(iterator->status(), Doing::kReading);
  }

  const Database& database_;
  const facts::LogPoint& place_;
  rocksdb::WriteBatch& writes_;
};

}  // namespace

absl::Status Store::Rewind(const facts::LogPoint& place, const BesideRewind& beside) {
  const facts::LogPoint end = point();
  if (place.arrivals >= end.arrivals) return absl::OkStatus();
  BP_RETURN_IF_ERROR(CheckHistory());
  BP_ASSIGN_OR_RETURN(const Hash log_hash, LogHashAt(place.arrivals));
  if (log_hash != place.log_hash) {
    return Fail(absl::StatusCode::kInvalidArgument, "LOG_OTHER",
                fmt::format("the log was another one after {} arrivals", place.arrivals));
  }
  BP_ASSIGN_OR_RETURN(const Cuts cuts, CutsAfter(*this, place));
  BP_ASSIGN_OR_RETURN(MerkleFrontier frontier, MerkleFrontier::Read(*TreeNodes(), place.arrivals));
  rocksdb::WriteBatch writes;
  Rewinding rewinding(*rep_->database, place, writes);
  BP_RETURN_IF_ERROR(rewinding.Log(end.arrivals));
  BP_RETURN_IF_ERROR(rewinding.Chains(cuts));
  rewinding.Tree(frontier);
  rewinding.Fold();
  rep_->PutFoldVersion(writes);
  for (const PendingCommit& one : beside.pending) {
    writes.Put(rep_->database->part(Part::kPending), SliceOf(PendingKey(one.chain, one.seq).view()),
               PendingValue(one));
  }
  PutMetaValues(writes, *rep_->database, beside.meta);
  // Before the log is shorter: a place ahead of the log would pass for a loss at the next opening.
  WriteHeadFile(rep_->folder, place);
  BP_RETURN_IF_ERROR(rep_->Write(writes, Durability::kSynced));
  rep_->pending_from.clear();
  rep_->synced = place;
  const std::lock_guard lock(rep_->mutex);
  rep_->point = place;
  rep_->tree = std::move(frontier);
  rep_->folded = 0;
  return absl::OkStatus();
}

}  // namespace broodpact::store
