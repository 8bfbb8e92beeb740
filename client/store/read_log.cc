// The reading half of the log: slices to send, single arrivals, places of chains, pending commits.

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/store/internal/block_scan.h"
#include "client/store/internal/blocks.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/keys.h"
#include "client/store/internal/rep.h"
#include "client/store/store.h"

namespace broodpact::store {
namespace {

// How many bytes the first `count` records take.
absl::StatusOr<std::size_t> BytesOfRecords(std::string_view records, std::uint64_t count) {
  // A record ends with its time, its flags and what those say there is.
  constexpr std::size_t kTimeAndFlagsSize = 9;
  facts::ArrivalReader reader(records);
  std::size_t bytes = 0;
  for (std::uint64_t i = 0; i < count; ++i) {
    const absl::StatusOr<facts::ArrivalView> view = reader.Next();
    if (!view.ok()) return Damaged("a block of its log is malformed");
    bytes = static_cast<std::size_t>(view->commit.data() - records.data()) + view->commit.size() +
            kTimeAndFlagsSize + (view->first_time_ms.has_value() ? sizeof(std::int64_t) : 0) +
            (view->signature.has_value() ? sizeof(Signature) : 0);
  }
  return bytes;
}

absl::Status ArrivalMissing(std::uint64_t arrival, std::uint64_t arrivals) {
  return Fail(absl::StatusCode::kNotFound, "ARRIVAL_MISSING",
              fmt::format("there is no arrival {}; the log has {}", arrival, arrivals));
}

// Hands out the verdicts of consecutive arrivals.
class VerdictScan {
 public:
  VerdictScan(const Database& database, std::uint64_t arrivals_before, std::uint64_t last)
      : scan_(database, Part::kVerdicts, arrivals_before, last), next_(arrivals_before) {}

  absl::StatusOr<registry::Verdict> Next() {
    if (place_ == verdicts_.size()) BP_RETURN_IF_ERROR(NextBlock());
    ++next_;
    return std::move(verdicts_[place_++]);
  }

 private:
  absl::Status NextBlock() {
    BP_ASSIGN_OR_RETURN(const bool more, scan_.Next());
    if (!more) return Damaged(fmt::format("the verdict of arrival {} is missing", next_ + 1));
    std::optional<std::vector<registry::Verdict>> verdicts = DecodeVerdictBlock(scan_.value());
    if (!verdicts.has_value()) {
      return Damaged(fmt::format("the verdict of arrival {} is malformed", next_ + 1));
    }
    verdicts_ = *std::move(verdicts);
    place_ = static_cast<std::size_t>(next_ - scan_.arrivals_before());
    return absl::OkStatus();
  }

  BlockScan scan_;
  std::uint64_t next_;  // arrivals before the next verdict
  std::vector<registry::Verdict> verdicts_;
  std::size_t place_ = 0;
};

// Which arrivals are asked for, and up to where they have verdicts.
struct Wanted {
  std::uint64_t first = 0;
  std::uint64_t last = 0;
  std::uint64_t folded = 0;
};

// Shows the wanted arrivals of the present block of `scan`.
absl::Status VisitBlock(const BlockScan& scan, const Wanted& wanted, VerdictScan& verdicts,
                        const Store::Visit& visit) {
  const std::optional<LogBlock> block = DecodeLogBlock(scan.value());
  if (!block.has_value()) return Damaged("a block of its log is malformed");
  facts::ArrivalReader reader(block->records);
  const std::uint64_t end = std::min(wanted.last, scan.arrivals_before() + block->count);
  for (std::uint64_t arrival = scan.arrivals_before() + 1; arrival <= end; ++arrival) {
    const absl::StatusOr<facts::ArrivalView> view = reader.Next();
    if (!view.ok()) return Damaged(fmt::format("arrival {} is malformed", arrival));
    if (arrival < wanted.first) continue;
    StoredArrival stored{.bytes = std::string(view->commit),
                         .time_ms = view->time_ms,
                         .first_time_ms = view->first_time_ms,
                         .signature = view->signature,
                         .verdict = {}};
    if (arrival <= wanted.folded) {
      BP_ASSIGN_OR_RETURN(stored.verdict, verdicts.Next());
    }
    BP_RETURN_IF_ERROR(visit(arrival, stored));
  }
  return absl::OkStatus();
}

}  // namespace

absl::StatusOr<LogSlice> Store::ReadLog(std::uint64_t arrivals_before,
                                        std::size_t bytes_max) const {
  if (arrivals_before < base().arrivals) return rep_->HistoryMissing();
  LogSlice slice;
  const std::uint64_t last = point().arrivals;
  BlockScan scan(*rep_->database, Part::kLog, arrivals_before, last);
  bool closed = false;
  while (true) {
    BP_ASSIGN_OR_RETURN(const bool more, scan.Next());
    if (!more) return slice;
    const std::optional<LogBlock> block = DecodeLogBlock(scan.value());
    if (!block.has_value()) return Damaged("a block of its log is malformed");
    if (closed && slice.records.size() + block->records.size() > bytes_max) return slice;

    std::string_view records = block->records;
    std::uint64_t count = block->count;
    if (scan.arrivals_before() < arrivals_before) {
      const std::uint64_t skipped = arrivals_before - scan.arrivals_before();
      BP_ASSIGN_OR_RETURN(const std::size_t bytes, BytesOfRecords(records, skipped));
      records.remove_prefix(bytes);
      count -= skipped;
    }
    slice.records.append(records);
    slice.count += count;
    closed = block->closed;
    if (closed && slice.records.size() >= bytes_max) return slice;
  }
}

absl::StatusOr<StoredArrival> Store::ReadArrival(std::uint64_t arrival) const {
  StoredArrival found;
  BP_RETURN_IF_ERROR(
      VisitArrivals(arrival, arrival, [&](std::uint64_t, const StoredArrival& stored) {
        found = stored;
        return absl::OkStatus();
      }));
  return found;
}

absl::Status Store::VisitArrivals(std::uint64_t first, std::uint64_t last,
                                  const Visit& visit) const {
  const std::uint64_t arrivals = point().arrivals;
  if (first > last) return absl::OkStatus();
  if (first == 0) return ArrivalMissing(first, arrivals);
  if (last > arrivals) return ArrivalMissing(last, arrivals);
  if (first <= base().arrivals) return rep_->HistoryMissing();

  const Wanted wanted{.first = first, .last = last, .folded = rep_->Folded()};
  BlockScan scan(*rep_->database, Part::kLog, first - 1, last);
  VerdictScan verdicts(*rep_->database, first - 1, std::min(last, wanted.folded));
  while (true) {
    BP_ASSIGN_OR_RETURN(const bool more, scan.Next());
    if (!more) return absl::OkStatus();
    BP_RETURN_IF_ERROR(VisitBlock(scan, wanted, verdicts, visit));
  }
}

absl::StatusOr<std::optional<std::uint64_t>> Store::ArrivalOf(const facts::ChainId& chain,
                                                              std::uint64_t seq) const {
  const Key prefix = SegmentPrefix(chain);
  const auto iterator = rep_->database->Iterate(Part::kChains, rocksdb::ReadOptions());
  iterator->SeekForPrev(SliceOf(SegmentKey(chain, seq).view()));
  BP_RETURN_IF_ERROR(FromRocks(iterator->status(), Doing::kReading));
  if (!iterator->Valid() || !TextOf(iterator->key()).starts_with(prefix.view())) {
    if (base().arrivals == 0) return std::optional<std::uint64_t>();
    // What arrived before the log begins has no segment.
    BP_ASSIGN_OR_RETURN(const facts::ChainHead head, HeadOf(chain));
    if (seq <= head.seq) return rep_->HistoryMissing();
    return std::optional<std::uint64_t>();
  }
  bool damaged = false;
  const std::optional<std::uint64_t> arrival = ArrivalInSegment(
      TextOf(iterator->value()), seq - NumberAtEnd(TextOf(iterator->key())), damaged);
  if (damaged) return Damaged("a segment of a chain is malformed");
  return arrival;
}

absl::StatusOr<std::optional<std::string>> Store::CommitAt(const facts::ChainId& chain,
                                                           std::uint64_t seq) const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::uint64_t> arrival, ArrivalOf(chain, seq));
  if (!arrival) return std::optional<std::string>();
  BP_ASSIGN_OR_RETURN(StoredArrival stored, ReadArrival(*arrival));
  return std::optional<std::string>(std::move(stored.bytes));
}

absl::StatusOr<std::vector<facts::ChainId>> Store::ChainsOf(const DeviceId& device) const {
  return rep_->ChainsWith(HeadPrefix(device));
}

absl::StatusOr<std::vector<facts::ChainId>> Store::Chains() const {
  return rep_->ChainsWith(HeadPrefix());
}

absl::StatusOr<std::vector<facts::ChainId>> Store::Rep::ChainsWith(const Key& prefix) const {
  std::vector<facts::ChainId> chains;
  const auto iterator = database->Iterate(Part::kChains, rocksdb::ReadOptions());
  for (iterator->Seek(SliceOf(prefix.view()));
       iterator->Valid() && TextOf(iterator->key()).starts_with(prefix.view()); iterator->Next()) {
    const std::optional<facts::ChainId> chain = ParseHeadKey(TextOf(iterator->key()));
    if (!chain.has_value()) return Damaged("the head of a chain is malformed");
    chains.push_back(*chain);
  }
  BP_RETURN_IF_ERROR(FromRocks(iterator->status(), Doing::kReading));
  return chains;
}

absl::StatusOr<std::vector<PendingCommit>> Store::Pending() const {
  std::vector<PendingCommit> commits;
  const auto iterator = rep_->database->Iterate(Part::kPending, rocksdb::ReadOptions());
  for (iterator->SeekToFirst(); iterator->Valid(); iterator->Next()) {
    const std::optional<PendingPlace> place = ParsePendingKey(TextOf(iterator->key()));
    const std::string_view value = TextOf(iterator->value());
    const std::optional<Signature> signature =
        SignatureOfBytes(value.substr(0, std::min(value.size(), sizeof(Signature))));
    if (!place.has_value() || !signature.has_value()) {
      return Damaged("an own commit that has not arrived is malformed");
    }
    commits.push_back({.chain = place->chain,
                       .seq = place->seq,
                       .commit = {.bytes = std::string(value.substr(sizeof(Signature))),
                                  .signature = *signature}});
  }
  BP_RETURN_IF_ERROR(FromRocks(iterator->status(), Doing::kReading));
  return commits;
}

}  // namespace broodpact::store
