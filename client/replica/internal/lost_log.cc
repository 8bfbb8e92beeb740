#include "client/replica/internal/lost_log.h"

#include <algorithm>
#include <cstddef>
#include <map>
#include <utility>

#include "absl/status/status.h"
#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/check.h"
#include "client/base/status.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "client/sync/session.h"

namespace broodpact::replica {
namespace {

// The nodes of a tree from some place on: what has grown onto a frontier. A proof of what lies
// after that place needs no others.
class GrownNodes final : public MerkleNodes {
 public:
  explicit GrownNodes(MerkleFrontier tree) : tree_(std::move(tree)) { Keep(tree_.Peaks()); }

  absl::Status Append(const facts::ArrivalView& arrival) {
    std::vector<MerkleNode> completed;
    BP_RETURN_IF_ERROR(tree_.Append(facts::LogLeafHash(arrival), &completed));
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

// Whether two are of the log of one server, as far as that can be told.
bool IsOfOneLog(const LostLog& one, const LostLog& other) {
  return one.head.server_key == other.head.server_key && one.head.epoch == other.head.epoch;
}

// One with its records reaches farther than one without.
std::pair<bool, std::uint64_t> Reach(const LostLog& one) {
  return {!one.records.empty(), one.head.point.arrivals};
}

absl::Status WriteLostLogs(store::Store& database, const std::vector<LostLog>& logs) {
  std::string bytes;
  ByteWriter writer(bytes);
  for (const LostLog& one : logs) writer.Text(EncodeLostLog(one));
  return database.PutMeta(kMetaLostLogs, bytes);
}

// Whether an error says that it will be the same the next time.
bool IsFinal(const absl::Status& status) {
  return absl::IsInvalidArgument(status) || absl::IsFailedPrecondition(status) ||
         absl::IsPermissionDenied(status) || absl::IsUnimplemented(status) ||
         ReasonOf(status) == "EPOCHS_SPENT";
}

// The server may believe a head by the code of a registrar alone.
absl::Status ShowCodes(store::Store& database, sync::Recovery& server) {
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  const auto compared = server.Compare({database.point()}, known.remembered());
  if (!compared.ok()) return IsFinal(compared.status()) ? absl::OkStatus() : compared.status();
  if (!known.IsServer(compared->head.server_key)) return absl::OkStatus();
  return KeepEpochs(database, compared->epochs);
}

// Reports one, and lets what it had arrive again. False if the server does not believe it now, and
// may later, once somebody has told it of the server that the head is of.
absl::StatusOr<bool> ShowOne(store::Store& database, sync::Recovery& server, const LostLog& lost,
                             Showing& showing) {
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  // What the log here has come to since is not lost: no epoch would ever say so.
  BP_ASSIGN_OR_RETURN(const bool is_here, IsPlaceOf(database, lost.head.point));
  BP_ASSIGN_OR_RETURN(const std::optional<facts::LogPoint> common,
                      CommonOf(database, lost, known.epochs));
  if (common && !sync::IsToldLost(known.epochs, lost.head)) {
    const absl::StatusOr<sync::Epochs> told = server.ReportLoss(lost.head, *common);
    const std::string reason = ReasonOf(told.status());
    // Without records there is nothing to wait with: who has more of it shows it himself.
    if (reason == "HEAD_OTHER" || reason == "LOG_OTHER") return is_here || lost.records.empty();
    if (!told.ok() && !IsFinal(told.status())) return told.status();
    if (told.ok()) BP_RETURN_IF_ERROR(KeepEpochs(database, *told));
  }
  if (is_here) return true;
  for (const ProvenPart& one : ProvenPartsOf(lost, sync::kChunkBytesTarget)) {
    const absl::StatusOr<sync::Redelivery> made =
        sync::DeliverWithTimes(server, one.part, one.times);
    if (ReasonOf(made.status()) == "LOSS_UNTOLD") return false;  // put back since it was told
    if (!made.ok() && !IsFinal(made.status())) return made.status();
    if (!made.ok()) break;
    showing.arrived += made->arrived;
  }
  return true;
}

}  // namespace

absl::Status LostLogIntake::Add(const sync::BundleLog& log) {
  if (!at_) {
    if (log.arrivals_before > store_.point().arrivals) return absl::OkStatus();
    BP_ASSIGN_OR_RETURN(const Hash hash, store_.LogHashAt(log.arrivals_before));
    at_ = facts::LogPoint{log.arrivals_before, hash};
  }
  if (log.arrivals_before != at_->arrivals) return absl::OkStatus();  // does not follow
  if (!tree_) {
    // A block that ends as the log here does is here: only the one where they part is looked into.
    BP_ASSIGN_OR_RETURN(const facts::LogPoint end, EndOf(log));
    BP_ASSIGN_OR_RETURN(const bool ours, IsPlaceOf(store_, end));
    if (ours) at_ = end;
    if (ours) return absl::OkStatus();
  }
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end() && at_->arrivals < lost_.head.point.arrivals) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    const facts::LogPoint before = *at_;
    at_ = facts::PointAfter(before, arrival);
    if (!tree_) {
      BP_ASSIGN_OR_RETURN(const bool ours, IsPlaceOf(store_, *at_));
      if (ours) continue;
      BP_RETURN_IF_ERROR(Part(before));
    }
    BP_CHECK(tree_.has_value());
    BP_RETURN_IF_ERROR(tree_->Append(facts::LogLeafHash(arrival)));
    if (lost_.records.size() < kLostLogBytesMax) facts::AppendArrival(lost_.records, arrival);
  }
  return absl::OkStatus();
}

absl::StatusOr<facts::LogPoint> LostLogIntake::EndOf(const sync::BundleLog& log) const {
  facts::LogPoint end = at_.value_or(facts::LogPoint{});
  facts::ArrivalReader reader(log.records);
  while (!reader.at_end() && end.arrivals < lost_.head.point.arrivals) {
    BP_ASSIGN_OR_RETURN(const facts::ArrivalView arrival, reader.Next());
    end = facts::PointAfter(end, arrival);
  }
  return end;
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
  // That proves what they have in common too: the tree began with the one here.
  const bool proven =
      tree_ && tree_->size() == lost_.head.point.arrivals && tree_->Root() == lost_.head.tree_root;
  if (!proven) return LostLog{.head = lost_.head};
  if (lost_.records.size() >= kLostLogBytesMax) lost_.records.clear();
  return std::move(lost_);
}

std::vector<ProvenPart> ProvenPartsOf(const LostLog& lost, std::size_t bytes_target) {
  const absl::StatusOr<MerkleFrontier> tree = MerkleFrontier::Decode(lost.tree);
  if (!tree.ok()) return {};
  GrownNodes nodes(*tree);
  std::vector<sync::LogPart> parts;  // whole runs
  std::uint64_t end = tree->size();
  facts::ArrivalReader reader(lost.records);
  for (bool begins = true; !reader.at_end(); ++end) {
    const auto arrival = reader.Next();
    if (!arrival.ok() || !nodes.Append(*arrival).ok()) return {};
    if (begins) parts.push_back({.arrivals_before = end});
    facts::AppendArrival(parts.back().records, *arrival);
    begins = arrival->signature.has_value() && parts.back().records.size() >= bytes_target;
  }
  std::vector<ProvenPart> proven(parts.size());
  for (std::size_t i = parts.size(); i-- > 0;) {
    const std::uint64_t before = parts[i].arrivals_before;
    auto times = sync::ProveFirstTimes(nodes, lost.head, before, end - before);
    if (!times.ok() || !times->has_value()) return {};
    proven[i] = {.part = std::move(parts[i]), .times = std::move(times->value())};
    end = before;
  }
  return proven;
}

absl::StatusOr<std::vector<LostLog>> ReadLostLogs(const store::Store& database) {
  std::vector<LostLog> logs;
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaLostLogs));
  ByteReader reader(bytes ? std::string_view(*bytes) : std::string_view());
  while (reader.ok() && !reader.at_end()) {
    std::optional<LostLog> lost = DecodeLostLog(reader.Text());
    if (!reader.ok() || !lost) break;
    logs.push_back(*std::move(lost));
  }
  return logs;
}

absl::Status KeepLostLog(store::Store& database, const LostLog& lost) {
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  if (sync::IsToldLost(known.epochs, lost.head) && lost.records.empty()) return absl::OkStatus();
  // A head may be void by an epoch and of the log of today all the same: it was signed before
  // anybody had told the server of its loss.
  BP_ASSIGN_OR_RETURN(const bool is_here, IsPlaceOf(database, lost.head.point));
  if (is_here) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(std::vector<LostLog> logs, ReadLostLogs(database));
  const bool kept = std::ranges::any_of(
      logs, [&](const LostLog& one) { return IsOfOneLog(one, lost) && Reach(one) >= Reach(lost); });
  if (kept) return absl::OkStatus();
  std::erase_if(logs, [&](const LostLog& one) { return IsOfOneLog(one, lost); });
  if (logs.size() >= kLostLogsMax) {
    return Fail(absl::StatusCode::kResourceExhausted, "MAIL_FULL",
                fmt::format("{} lost logs wait to be shown to the server, and no more are kept; "
                            "sync first, then read the bundle again",
                            logs.size()));
  }
  logs.push_back(lost);
  return WriteLostLogs(database, logs);
}

absl::StatusOr<Showing> ShowLostLogs(store::Store& database, sync::Recovery& server) {
  Showing showing;
  BP_ASSIGN_OR_RETURN(std::vector<LostLog> logs, ReadLostLogs(database));
  if (logs.empty()) return showing;
  BP_RETURN_IF_ERROR(ShowCodes(database, server));
  for (std::size_t i = 0; i < logs.size();) {
    BP_ASSIGN_OR_RETURN(const bool taken, ShowOne(database, server, logs[i], showing));
    if (!taken) {
      showing.waits = true;
      ++i;
      continue;
    }
    logs.erase(logs.begin() + static_cast<std::ptrdiff_t>(i));
    BP_RETURN_IF_ERROR(WriteLostLogs(database, logs));
  }
  return showing;
}

}  // namespace broodpact::replica
