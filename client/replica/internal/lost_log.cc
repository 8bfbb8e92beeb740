#include "client/replica/internal/lost_log.h"

#include <map>
#include <utility>

#include "client/base/bytes.h"
#include "client/base/merkle_proof.h"
#include "client/base/status.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "client/sync/session.h"

namespace broodpact::replica {
namespace {

absl::Status AppendLeaf(MerkleFrontier& tree, const facts::ArrivalView& arrival,
                        std::vector<MerkleNode>* completed = nullptr) {
  return tree.Append(facts::LogLeafHash(Sha256(arrival.commit), facts::TimesOf(arrival)),
                     completed);
}

// The nodes of a tree from some place on: what has grown onto a frontier. A proof of what lies
// after that place needs no others.
class GrownNodes final : public MerkleNodes {
 public:
  explicit GrownNodes(MerkleFrontier tree) : tree_(std::move(tree)) { Keep(tree_.Peaks()); }

  absl::Status Append(const facts::ArrivalView& arrival) {
    std::vector<MerkleNode> completed;
    BP_RETURN_IF_ERROR(AppendLeaf(tree_, arrival, &completed));
    Keep(completed);
    return absl::OkStatus();
  }

  absl::StatusOr<Hash> HashAt(const MerklePlace& place) const override {
    const auto found = nodes_.find(place);
    if (found != nodes_.end()) return found->second;
    return absl::InternalError("a proof asks for a node before the place that a tree grew from");
  }

 private:
  void Keep(const std::vector<MerkleNode>& nodes) {
    for (const MerkleNode& node : nodes) nodes_.emplace(node.place, node.hash);
  }

  MerkleFrontier tree_;
  std::map<MerklePlace, Hash> nodes_;
};

// As a small value: head and tree as texts, arrivals and log hash of the common place where there
// is one, and the records as a text (base/bytes.h).
std::string EncodeLostLog(const LostLog& lost) {
  std::string bytes;
  ByteWriter writer(bytes);
  writer.Text(sync::EncodeHead(lost.head));
  writer.Unsigned(lost.common ? 1 : 0);
  if (lost.common) {
    writer.Unsigned(lost.common->arrivals);
    writer.Raw(ViewOf(lost.common->log_hash));
  }
  writer.Text(lost.tree);
  writer.Text(lost.records);
  return bytes;
}

std::optional<LostLog> DecodeLostLog(std::string_view bytes) {
  ByteReader reader(bytes);
  const std::optional<sync::Head> head = sync::DecodeHead(reader.Text());
  if (!head) return std::nullopt;
  LostLog lost{.head = *head};
  if (reader.Unsigned() == 1) {
    lost.common.emplace();
    lost.common->arrivals = reader.Unsigned();
    const std::optional<Hash> hash = HashOfBytes(reader.Raw(lost.common->log_hash.size()));
    if (!hash) return std::nullopt;
    lost.common->log_hash = *hash;
  }
  lost.tree = std::string(reader.Text());
  lost.records = std::string(reader.Text());
  if (!reader.ok() || !reader.at_end()) return std::nullopt;
  return lost;
}

// The records in parts: whole runs, each part about `bytes_target` long.
std::vector<sync::LogPart> Cut(const LostLog& lost, std::uint64_t before,
                               std::size_t bytes_target) {
  std::vector<sync::LogPart> parts;
  facts::ArrivalReader reader(lost.records);
  bool begins = true;
  while (!reader.at_end()) {
    const auto arrival = reader.Next();
    if (!arrival.ok()) return {};
    if (begins) parts.push_back({.arrivals_before = before});
    facts::AppendArrival(parts.back().records, *arrival);
    ++before;
    begins = arrival->signature.has_value() && parts.back().records.size() >= bytes_target;
  }
  return parts;
}

// Up to where the log of the head and the one of today are the same, as far as it is known.
absl::StatusOr<std::optional<facts::LogPoint>> CommonOf(const store::Store& database,
                                                        const LostLog& lost,
                                                        const sync::Epochs& epochs) {
  if (lost.common) {
    BP_ASSIGN_OR_RETURN(const bool stands, IsPlaceOf(database, *lost.common));
    if (stands) return lost.common;
  }
  return sync::PartingOf(epochs, lost.head);
}

}  // namespace

absl::Status LostLogIntake::Add(const sync::BundleLog& log) {
  if (!at_) {
    if (log.arrivals_before > store_.point().arrivals) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const Hash hash, store_.LogHashAt(log.arrivals_before));
    at_ = facts::LogPoint{log.arrivals_before, hash};
  }
  if (log.arrivals_before != at_->arrivals) return absl::OkStatus();  // does not follow
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end() && at_->arrivals < lost_.head.point.arrivals) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    const facts::LogPoint before = *at_;
    at_->log_hash =
        facts::NextLogHash(at_->log_hash, Sha256(arrival.commit), facts::TimesOf(arrival));
    ++at_->arrivals;
    if (!tree_) {
      BP_ASSIGN_OR_RETURN(const bool ours, IsPlaceOf(store_, *at_));
      if (ours) continue;
      BP_RETURN_IF_ERROR(Part(before));
    }
    BP_RETURN_IF_ERROR(AppendLeaf(*tree_, arrival));
    if (lost_.records.size() < kLostLogBytesMax) facts::AppendArrival(lost_.records, arrival);
  }
  return absl::OkStatus();
}

absl::Status LostLogIntake::Part(const facts::LogPoint& common) {
  lost_.common = common;
  BP_ASSIGN_OR_RETURN(tree_, MerkleFrontier::Read(*store_.TreeNodes(), common.arrivals));
  lost_.tree = tree_->Encode();
  return absl::OkStatus();
}

absl::StatusOr<LostLog> LostLogIntake::Finish() {
  // All of it is here: nothing parts.
  if (at_ && !tree_) BP_RETURN_IF_ERROR(Part(*at_));
  const bool whole = tree_ && tree_->size() == lost_.head.point.arrivals &&
                     tree_->Root() == lost_.head.tree_root &&
                     lost_.records.size() < kLostLogBytesMax;
  if (!whole) lost_.records.clear();
  return std::move(lost_);
}

std::vector<ProvenPart> ProvenPartsOf(const LostLog& lost, std::size_t bytes_target) {
  const absl::StatusOr<MerkleFrontier> tree = MerkleFrontier::Decode(lost.tree);
  if (!tree.ok()) return {};
  GrownNodes nodes(*tree);
  facts::ArrivalReader reader(lost.records);
  while (!reader.at_end()) {
    const auto arrival = reader.Next();
    if (!arrival.ok() || !nodes.Append(*arrival).ok()) return {};
  }
  std::vector<ProvenPart> proven;
  MerkleFrontier before = *tree;
  for (sync::LogPart& part : Cut(lost, tree->size(), bytes_target)) {
    ProvenPart one{.part = std::move(part), .times = {.head = lost.head}};
    one.times.tree_before = before.Encode();
    facts::ArrivalReader records(one.part.records);
    while (!records.at_end()) {
      if (!AppendLeaf(before, *records.Next()).ok()) return {};
    }
    absl::StatusOr<std::vector<Hash>> proof =
        ConsistencyProof(nodes, before.size(), lost.head.point.arrivals);
    if (!proof.ok()) return {};
    one.times.proof = *std::move(proof);
    proven.push_back(std::move(one));
  }
  return proven;
}

absl::StatusOr<std::optional<LostLog>> ReadLostLog(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaLostLog));
  return bytes ? DecodeLostLog(*bytes) : std::nullopt;
}

absl::Status KeepLostLog(store::Store& database, const LostLog& lost) {
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  BP_ASSIGN_OR_RETURN(const std::optional<LostLog> kept, ReadLostLog(database));
  const bool told = sync::IsToldLost(known.epochs, lost.head) && lost.records.empty();
  const auto reach = [](const LostLog& one) {
    return std::pair(!one.records.empty(), one.head.point.arrivals);
  };
  if (told || (kept && reach(*kept) >= reach(lost))) return absl::OkStatus();
  return database.PutMeta(kMetaLostLog, EncodeLostLog(lost));
}

absl::StatusOr<std::uint64_t> ShowLostLog(store::Store& database, sync::Recovery& server) {
  std::uint64_t arrived = 0;
  BP_ASSIGN_OR_RETURN(const std::optional<LostLog> lost, ReadLostLog(database));
  if (!lost) return arrived;
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  BP_ASSIGN_OR_RETURN(const std::optional<facts::LogPoint> common,
                      CommonOf(database, *lost, known.epochs));
  if (common && !sync::IsToldLost(known.epochs, lost->head)) {
    const absl::StatusOr<sync::Epochs> told = server.ReportLoss(lost->head, *common);
    if (absl::IsUnavailable(told.status())) return told.status();
    if (told.ok()) BP_RETURN_IF_ERROR(KeepEpochs(database, *told));
  }
  for (const ProvenPart& one : ProvenPartsOf(*lost, sync::kChunkBytesTarget)) {
    const absl::StatusOr<sync::Redelivery> made =
        sync::DeliverWithTimes(server, one.part, one.times);
    if (absl::IsUnavailable(made.status())) return made.status();
    if (!made.ok()) break;
    arrived += made->arrived;
  }
  BP_RETURN_IF_ERROR(database.PutMeta(kMetaLostLog, ""));
  return arrived;
}

}  // namespace broodpact::replica
