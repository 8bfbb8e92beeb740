#include "client/store/internal/tree_growth.h"

#include "client/base/status.h"
#include "client/store/internal/keys.h"

namespace broodpact::store {

absl::Status TreeGrowth::Add(const Hash& commit_hash, const facts::ArrivalTimes& times,
                             const Hash& log_hash) {
  completed_.clear();
  BP_RETURN_IF_ERROR(frontier_.Append(facts::LogLeafHash(commit_hash, times), &completed_));
  rocksdb::ColumnFamilyHandle* part = database_.part(Part::kChains);
  for (const MerkleNode& node : completed_) {
    if (node.place.level < kTreeLevelMin) continue;
    writes_.Put(part, SliceOf(TreeKey(node.place).view()), SliceOf(ViewOf(node.hash)));
  }
  if (frontier_.size() % kTreeGroup == 0) {
    writes_.Put(part, SliceOf(LogHashKey(frontier_.size()).view()), SliceOf(ViewOf(log_hash)));
  }
  return absl::OkStatus();
}

MerkleFrontier TreeGrowth::Finish() {
  writes_.Put(database_.part(Part::kMeta), SliceOf(kTreeName), frontier_.Encode());
  return std::move(frontier_);
}

}  // namespace broodpact::store
