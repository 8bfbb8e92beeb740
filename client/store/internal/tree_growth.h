#pragma once

// Grows the Merkle tree over the log, and puts what is kept of it into a batch.
//
// Kept are the complete subtrees of 256 arrivals and more, the log hash at every 256th arrival, and
// the frontier at the end: one small value in a hundred arrivals. All else is computed from at most
// 255 arrivals of the log when somebody asks.

#include <cstdint>
#include <utility>
#include <vector>

#include "absl/status/status.h"
#include "rocksdb/write_batch.h"

#include "client/base/merkle.h"
#include "client/facts/arrival.h"
#include "client/store/internal/database.h"

namespace broodpact::store {

// The level of the smallest subtrees that are kept, and how many arrivals those have.
inline constexpr std::uint32_t kTreeLevelMin = 8;
inline constexpr std::uint64_t kTreeGroup = std::uint64_t{1} << kTreeLevelMin;

class TreeGrowth {
 public:
  // Grows on from `frontier`. What is passed outlives this.
  TreeGrowth(MerkleFrontier frontier, const Database& database, rocksdb::WriteBatch& writes)
      : frontier_(std::move(frontier)), database_(database), writes_(writes) {}

  // The next arrival, and the log hash after it.
  // Errors: RESOURCE_EXHAUSTED with reason TREE_FULL.
  absl::Status Add(const Hash& commit_hash, const facts::ArrivalTimes& times, const Hash& log_hash);

  // Puts the frontier, and returns it.
  MerkleFrontier Finish();

 private:
  MerkleFrontier frontier_;
  const Database& database_;
  rocksdb::WriteBatch& writes_;
  std::vector<MerkleNode> completed_;
};

}  // namespace broodpact::store
