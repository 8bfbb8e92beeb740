// The log as a Merkle tree, and the log hash at any place: what a server proves its log by, and a
// client holds it to.

#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <utility>

#include "rocksdb/write_batch.h"
#include <fmt/format.h>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/store/internal/errors.h"
#include "client/store/internal/keys.h"
#include "client/store/internal/rep.h"
#include "client/store/internal/tree_growth.h"
#include "client/store/store.h"

namespace broodpact::store {
namespace {

constexpr std::size_t kSliceBytes = 262'144;
// Groups of leaves that one reader holds: a proof of consistency touches two.
constexpr std::size_t kGroupsHeldMax = 4;
// Arrivals whose subtrees go into one batch when the tree is computed again.
constexpr std::uint64_t kRegrowArrivals = 65'536;

// One arrival as the tree needs it.
struct Leaf {
  Hash commit{};
  facts::ArrivalTimes times{};
};

absl::Status ShortError(std::uint64_t arrivals, std::uint64_t all) {
  return Fail(absl::StatusCode::kOutOfRange, "LOG_SHORT",
              fmt::format("the log has {} arrivals, not {}", all, arrivals));
}

// Calls `visit(leaf)` for arrivals before + 1 .. last.
template <typename Visit>
absl::Status VisitLeaves(const Store& store, std::uint64_t before, std::uint64_t last,
                         Visit&& visit) {
  while (before < last) {
    BP_ASSIGN_OR_RETURN(const LogSlice slice, store.ReadLog(before, kSliceBytes));
    if (slice.count == 0) return Damaged(fmt::format("arrival {} is missing", before + 1));
    facts::ArrivalReader reader(slice.records);
    for (; !reader.at_end() && before < last; ++before) {
      BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
      BP_RETURN_IF_ERROR(visit(Leaf{Sha256(arrival.commit), facts::TimesOf(arrival)}));
    }
  }
  return absl::OkStatus();
}

class LogNodes final : public MerkleNodes {
 public:
  LogNodes(const Store& store, const Database& database) : store_(store), database_(database) {}

  absl::StatusOr<Hash> HashAt(const MerklePlace& place) const override {
    if (place.level >= kTreeLevelMin) return Kept(place);
    const std::uint64_t first = place.index << place.level;
    const std::uint64_t count = std::uint64_t{1} << place.level;
    const std::uint64_t base = store_.base().arrivals;
    // Before the log begins, the subtrees are kept that its tree ended in.
    if (first + count <= base) return Kept(place);
    if (first < base) return Joined(place);
    const std::uint64_t group = first / kTreeGroup;
    BP_ASSIGN_OR_RETURN(const std::vector<Hash>* leaves, LeavesOf(group));
    const std::uint64_t begin = first - std::max(group * kTreeGroup, base);
    if (begin + count > leaves->size()) return ShortError(first + count, first);
    MerkleFrontier subtree;
    for (std::uint64_t i = 0; i < count; ++i) {
      BP_RETURN_IF_ERROR(subtree.Append((*leaves)[begin + i]));
    }
    return subtree.Root();
  }

 private:
  absl::StatusOr<Hash> Kept(const MerklePlace& place) const {
    BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes,
                        database_.Get(Part::kChains, TreeKey(place).view()));
    const std::optional<Hash> hash = bytes ? HashOfBytes(*bytes) : std::nullopt;
    if (hash) return *hash;
    const bool before_base = (place.index << place.level) < store_.base().arrivals;
    if (before_base) return store_.CheckHistory();
    return Fail(absl::StatusCode::kDataLoss, "TREE_MISSING",
                "a part of the log's tree is missing; run `broodpact rebuild`");
  }

  // A subtree that the log begins within.
  absl::StatusOr<Hash> Joined(const MerklePlace& place) const {
    const std::uint32_t level = place.level - 1;
    BP_ASSIGN_OR_RETURN(const Hash left, HashAt({.level = level, .index = place.index * 2}));
    BP_ASSIGN_OR_RETURN(const Hash right, HashAt({.level = level, .index = place.index * 2 + 1}));
    return MerkleNodeHash(left, right);
  }

  // The leaves of a group, as many as the log has.
  absl::StatusOr<const std::vector<Hash>*> LeavesOf(std::uint64_t group) const {
    if (const auto held = groups_.find(group); held != groups_.end()) return &held->second;
    if (groups_.size() >= kGroupsHeldMax) groups_.clear();
    std::vector<Hash> leaves;
    leaves.reserve(kTreeGroup);
    const std::uint64_t last = std::min(store_.point().arrivals, (group + 1) * kTreeGroup);
    const std::uint64_t before = std::max(group * kTreeGroup, store_.base().arrivals);
    BP_RETURN_IF_ERROR(VisitLeaves(store_, before, last, [&](const Leaf& leaf) {
      leaves.push_back(facts::LogLeafHash(leaf.commit, leaf.times));
      return absl::OkStatus();
    }));
    return &groups_.emplace(group, std::move(leaves)).first->second;
  }

  const Store& store_;
  const Database& database_;
  mutable std::map<std::uint64_t, std::vector<Hash>> groups_;
};

}  // namespace

absl::Status Store::Rep::LoadTree() {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes,
                      database->Get(Part::kMeta, kTreeName));
  if (!bytes) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(tree, MerkleFrontier::Decode(*bytes));
  return absl::OkStatus();
}

absl::StatusOr<MerkleFrontier> Store::Rep::PutTree(rocksdb::WriteBatch& writes,
                                                   const facts::Range& range) const {
  BP_CHECK(range.log_hashes.size() == range.arrivals.size());
  TreeGrowth growth(tree, *database, writes);
  for (std::size_t i = 0; i < range.arrivals.size(); ++i) {
    const facts::Arrived& arrived = range.arrivals[i];
    BP_RETURN_IF_ERROR(
        growth.Add(arrived.commit.hash, facts::TimesOf(arrived), range.log_hashes[i]));
  }
  return growth.Finish();
}

std::unique_ptr<MerkleNodes> Store::TreeNodes() const {
  return std::make_unique<LogNodes>(*this, *rep_->database);
}

absl::StatusOr<Hash> Store::TreeRootAt(std::uint64_t arrivals) const {
  const std::uint64_t all = point().arrivals;
  if (arrivals > all) return ShortError(arrivals, all);
  if (arrivals < base().arrivals) return rep_->HistoryMissing();
  {
    const std::lock_guard lock(rep_->mutex);
    if (rep_->tree.size() == arrivals) return rep_->tree.Root();
  }
  BP_ASSIGN_OR_RETURN(const MerkleFrontier frontier, MerkleFrontier::Read(*TreeNodes(), arrivals));
  return frontier.Root();
}

absl::StatusOr<Hash> Store::LogHashAt(std::uint64_t arrivals) const {
  const facts::LogPoint end = point();
  if (arrivals == end.arrivals) return end.log_hash;
  if (arrivals > end.arrivals) return ShortError(arrivals, end.arrivals);
  const std::uint64_t base = this->base().arrivals;
  if (arrivals < base) return rep_->HistoryMissing();
  const std::uint64_t before = std::max(base, arrivals - arrivals % kTreeGroup);
  absl::StatusOr<std::optional<std::string>> bytes =
      before == 0 ? Meta(kCooperativeName)
                  : rep_->database->Get(Part::kChains, LogHashKey(before).view());
  if (!bytes.ok()) return bytes.status();
  const std::optional<Hash> kept = *bytes ? HashOfBytes(**bytes) : std::optional<Hash>();
  // A log without a cooperative, which only a test has, begins with zeros.
  if (!kept && before > 0) {
    return Fail(absl::StatusCode::kDataLoss, "TREE_MISSING",
                "a hash of the log is missing; run `broodpact rebuild`");
  }
  Hash log_hash = kept.value_or(Hash{});
  BP_RETURN_IF_ERROR(VisitLeaves(*this, before, arrivals, [&](const Leaf& leaf) {
    log_hash = facts::NextLogHash(log_hash, leaf.commit, leaf.times);
    return absl::OkStatus();
  }));
  return log_hash;
}

absl::Status Store::RegrowTree() {
  const std::uint64_t all = point().arrivals;
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> cooperative, Meta(kCooperativeName));
  Hash log_hash = cooperative ? HashOfBytes(*cooperative).value_or(Hash{}) : Hash{};
  MerkleFrontier grown;
  if (const facts::LogPoint begin = base(); begin.arrivals > 0) {
    BP_ASSIGN_OR_RETURN(grown, MerkleFrontier::Read(*TreeNodes(), begin.arrivals));
    log_hash = begin.log_hash;
  }
  while (grown.size() < all) {
    rocksdb::WriteBatch writes;
    const std::uint64_t last = std::min(all, grown.size() + kRegrowArrivals);
    TreeGrowth growth(grown, *rep_->database, writes);
    BP_RETURN_IF_ERROR(VisitLeaves(*this, grown.size(), last, [&](const Leaf& leaf) {
      log_hash = facts::NextLogHash(log_hash, leaf.commit, leaf.times);
      return growth.Add(leaf.commit, leaf.times, log_hash);
    }));
    grown = growth.Finish();
    BP_RETURN_IF_ERROR(rep_->Write(writes, Durability::kWritten));
  }
  const std::lock_guard lock(rep_->mutex);
  rep_->tree = std::move(grown);
  return absl::OkStatus();
}

}  // namespace broodpact::store
