#include "client/store/internal/block_scan.h"

#include <optional>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/store/internal/blocks.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/keys.h"

namespace broodpact::store {
namespace {

std::optional<std::uint64_t> CountOf(Part part, std::string_view value) {
  if (part == Part::kVerdicts) return VerdictCountOf(value);
  const std::optional<LogBlock> block = DecodeLogBlock(value);
  if (!block.has_value()) return std::nullopt;
  return block->count;
}

rocksdb::ReadOptions ScanOptions() {
  rocksdb::ReadOptions options;
  // A sync of the whole log must not push the hot subjects out of the cache.
  options.fill_cache = false;
  return options;
}

}  // namespace

BlockScan::BlockScan(const Database& database, Part part, std::uint64_t arrivals_before,
                     std::uint64_t last)
    : part_(part),
      last_(last),
      expected_(arrivals_before),
      iterator_(database.Iterate(part, ScanOptions())) {}

absl::Status BlockScan::Gap() const {
  BP_RETURN_IF_ERROR(FromRocks(iterator_->status(), Doing::kReading));
  return Damaged(fmt::format("arrival {} is missing from its {}", expected_ + 1,
                             part_ == Part::kLog ? "log" : "verdicts"));
}

absl::StatusOr<bool> BlockScan::Next() {
  if (expected_ >= last_) return false;
  if (!begun_) {
    iterator_->SeekForPrev(SliceOf(BlockKey(expected_).view()));
  } else {
    iterator_->Next();
  }
  if (!iterator_->Valid()) return Gap();
  before_ = NumberAtEnd(TextOf(iterator_->key()));
  const std::optional<std::uint64_t> count = CountOf(part_, value());
  if (!count.has_value()) return Gap();
  count_ = *count;
  const bool in_order = begun_ ? before_ == expected_ : before_ + count_ > expected_;
  if (!in_order) return Gap();
  begun_ = true;
  expected_ = before_ + count_;
  return true;
}

}  // namespace broodpact::store
