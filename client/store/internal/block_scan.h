#pragma once

// Walks the blocks of the log, or of its verdicts, in order, and notices a gap.

#include <cstdint>
#include <memory>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/store/internal/database.h"

namespace broodpact::store {

class BlockScan {
 public:
  // From the block that has the arrival after `arrivals_before`, up to the one that has arrival
  // `last`. `part` is kLog or kVerdicts. `database` outlives the scan.
  BlockScan(const Database& database, Part part, std::uint64_t arrivals_before, std::uint64_t last);

  // Goes to the next block; false after the last one.
  // Errors: DATA_LOSS with reason STORE_DAMAGED, where blocks are missing too; STORE_READ.
  absl::StatusOr<bool> Next();

  // The present block: arrivals before its first one, how many it has, and its bytes.
  std::uint64_t arrivals_before() const { return before_; }
  std::uint64_t count() const { return count_; }
  std::string_view value() const { return TextOf(iterator_->value()); }

 private:
  absl::Status Gap() const;

  Part part_;
  std::uint64_t last_;
  std::uint64_t expected_;  // arrivals before the next block, once the first is found
  std::uint64_t before_ = 0;
  std::uint64_t count_ = 0;
  bool begun_ = false;
  std::unique_ptr<rocksdb::Iterator> iterator_;
};

}  // namespace broodpact::store
