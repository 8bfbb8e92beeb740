#include "client/replica/internal/history.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "client/base/bytes.h"
#include "client/base/day.h"
#include "client/base/status.h"
#include "client/replica/internal/rep.h"

namespace broodpact::replica {
namespace {

// Log hashes that are held at hand: those of two whole ranges.
constexpr std::size_t kHashesHeldMax = 2 * sync::kRangeCommitsMax;

constexpr std::string_view kWhatToDo =
    "both are kept (`broodpact heads`); sync: a server that was restored from an old backup says "
    "so, "
    "and this goes away; if it does not, show both to the other keepers, and sync with this server "
    "no more before its keeper has explained";

IdBytes HalfOf(const Hash& hash) {
  return FirstHalf<Token>(hash).bytes;
}

std::string HeadText(const sync::Head& head) {
  return fmt::format("{} arrivals signed on {}", head.point.arrivals, InstantText(head.time_ms));
}

// The doubt about the log here, of which the commit has seen another beginning.
Doubt OtherSeen(const facts::Arrived& arrived) {
  const facts::CommitHeader& header = arrived.commit.header;
  Doubt doubt;
  doubt.reason = "LOG_FORKED";
  doubt.message = fmt::format(
      "commit {} of device {} was made on another history than the one that the server tells "
      "here: of the first {} arrivals, it has seen others; either the server tells two "
      "histories, or that device's replica is damaged: compare `broodpact heads` with its "
      "keeper, and let the keeper of the server explain",
      arrived.arrival, ToShortText(header.device), header.seen.arrivals);
  doubt.theirs.point.arrivals = header.seen.arrivals;
  std::ranges::copy(header.seen.log_hash, doubt.theirs.point.log_hash.begin());
  return doubt;
}

// Whether a commit is what the doubt is by: no server has signed the other log.
bool IsOfSeen(const Doubt& doubt) {
  return doubt.theirs.signature == Signature{};
}

// Whether the server says that it has lost a log that the doubt is of. A commit may stay in the log
// when heads after it are lost: only the loss of what it has seen explains it.
bool IsExplained(const Doubt& doubt, const sync::Epochs& epochs) {
  if (IsOfSeen(doubt)) return sync::MayBeLost(epochs, doubt.theirs.point.arrivals);
  return sync::IsVoid(epochs, doubt.ours) || sync::IsVoid(epochs, doubt.theirs);
}

}  // namespace

absl::StatusOr<bool> IsPlaceOf(const store::Store& database, const facts::LogPoint& place) {
  if (place.arrivals > database.point().arrivals || place.arrivals < database.base().arrivals) {
    return false;
  }
  BP_ASSIGN_OR_RETURN(const Hash log_hash, database.LogHashAt(place.arrivals));
  return log_hash == place.log_hash;
}

absl::StatusOr<HeadFit> FitOf(const store::Store& database, const facts::HeadClaim& head) {
  const std::uint64_t arrivals = head.point.arrivals;
  if (arrivals > database.point().arrivals) return HeadFit::kAhead;
  // A server that nobody has claimed signs an empty log, of no cooperative.
  if (arrivals == 0) return HeadFit::kOurs;
  if (arrivals < database.base().arrivals) return HeadFit::kBefore;
  BP_ASSIGN_OR_RETURN(const Hash log_hash, database.LogHashAt(arrivals));
  if (log_hash != head.point.log_hash) return HeadFit::kOther;
  BP_ASSIGN_OR_RETURN(const Hash root, database.TreeRootAt(arrivals));
  return root == head.tree_root ? HeadFit::kOurs : HeadFit::kOther;
}

std::string EncodeDoubts(const std::vector<Doubt>& doubts) {
  std::string bytes;
  ByteWriter writer(bytes);
  for (const Doubt& doubt : doubts) {
    writer.Text(doubt.reason);
    writer.Text(doubt.message);
    writer.Text(sync::EncodeHead(doubt.ours));
    writer.Text(sync::EncodeHead(doubt.theirs));
  }
  return bytes;
}

std::vector<Doubt> DecodeDoubts(std::string_view bytes) {
  std::vector<Doubt> doubts;
  ByteReader reader(bytes);
  while (reader.ok() && !reader.at_end()) {
    Doubt doubt;
    doubt.reason = std::string(reader.Text());
    doubt.message = std::string(reader.Text());
    const std::optional<sync::Head> ours = sync::DecodeHead(reader.Text());
    const std::optional<sync::Head> theirs = sync::DecodeHead(reader.Text());
    if (!reader.ok() || !ours || !theirs) break;
    doubt.ours = *ours;
    doubt.theirs = *theirs;
    doubts.push_back(std::move(doubt));
  }
  return doubts;
}

absl::StatusOr<std::vector<Doubt>> ReadDoubts(const store::Store& database) {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, database.Meta(kMetaDoubts));
  return DecodeDoubts(bytes.value_or(""));
}

bool HasRoomFor(const std::vector<Doubt>& doubts, const Doubt& doubt) {
  const auto same = [&](const Doubt& one) { return one.theirs.point == doubt.theirs.point; };
  return doubts.size() < kDoubtsMax && std::ranges::none_of(doubts, same);
}

absl::Status KeepDoubt(store::Store& database, const Doubt& doubt) {
  BP_ASSIGN_OR_RETURN(std::vector<Doubt> doubts, ReadDoubts(database));
  if (!HasRoomFor(doubts, doubt)) return absl::OkStatus();
  doubts.push_back(doubt);
  return database.PutMeta(kMetaDoubts, EncodeDoubts(doubts));
}

absl::Status ForgetDoubts(store::Store& database, const sync::Epochs& epochs) {
  BP_ASSIGN_OR_RETURN(std::vector<Doubt> doubts, ReadDoubts(database));
  const std::size_t before = doubts.size();
  std::erase_if(doubts, [&](const Doubt& doubt) { return IsExplained(doubt, epochs); });
  if (doubts.size() == before) return absl::OkStatus();
  return database.PutMeta(kMetaDoubts, EncodeDoubts(doubts));
}

Doubt TwoHistories(const sync::Head& ours, const sync::Head& theirs) {
  return {.reason = "LOG_FORKED",
          .message = fmt::format("the server tells two histories: a log of {}, which this replica "
                                 "holds, and another of {}; {}",
                                 HeadText(ours), HeadText(theirs), kWhatToDo),
          .ours = ours,
          .theirs = theirs};
}

Doubt ShrunkLog(const sync::Head& before, const sync::Head& after) {
  return {.reason = "LOG_SHRUNK",
          .message = fmt::format("the server has lost what it had acknowledged: its log was of {}, "
                                 "and is now of {}; {}",
                                 HeadText(before), HeadText(after), kWhatToDo),
          .ours = before,
          .theirs = after};
}

absl::Status DamagedLogError() {
  return Fail(absl::StatusCode::kDataLoss, "STORE_DAMAGED",
              "the log of this replica is not the one that the server signed when it was fetched; "
              "run `broodpact verify`");
}

absl::Status ErrorOf(const Doubt& doubt) {
  return Fail(absl::StatusCode::kDataLoss, doubt.reason, doubt.message);
}

absl::StatusOr<std::optional<IdBytes>> SeenCheck::HashAt(std::uint64_t arrivals) {
  if (arrivals >= first_ && arrivals - first_ < hashes_.size()) return hashes_[arrivals - first_];
  const auto known = looked_up_.find(arrivals);
  if (known != looked_up_.end()) return known->second;
  // What lies between the store's end and the ranges at hand is on its way to the disk.
  const bool stored = arrivals <= store_.point().arrivals && arrivals >= store_.base().arrivals;
  if (!stored || looks_ >= kLooksBackMax) return std::nullopt;
  ++looks_;
  BP_ASSIGN_OR_RETURN(const Hash hash, store_.LogHashAt(arrivals));
  return looked_up_.emplace(arrivals, HalfOf(hash)).first->second;
}

absl::StatusOr<bool> SeenCheck::Fits(const facts::Arrived& arrived) {
  const facts::Seen& seen = arrived.commit.header.seen;
  if (seen.arrivals == 0) return true;
  // Nobody has seen what comes after the own commit, on this log.
  if (seen.arrivals >= arrived.arrival) return false;
  BP_ASSIGN_OR_RETURN(const std::optional<IdBytes> hash, HashAt(seen.arrivals));
  return !hash || *hash == seen.log_hash;
}

absl::StatusOr<std::vector<Doubt>> SeenCheck::Follow(const facts::Range& range,
                                                     const sync::Epochs& epochs) {
  std::vector<Doubt> doubts;
  if (hashes_.empty()) {
    first_ = range.before.arrivals;
    hashes_.push_back(HalfOf(range.before.log_hash));
  }
  for (std::size_t i = 0; i < range.arrivals.size(); ++i) {
    const facts::Arrived& arrived = range.arrivals[i];
    const std::uint64_t seen = arrived.commit.header.seen.arrivals;
    if (doubted_.size() < kDoubtsMax && !doubted_.contains(seen) &&
        !sync::MayBeLost(epochs, seen)) {
      BP_ASSIGN_OR_RETURN(const bool fits, Fits(arrived));
      if (!fits) {
        doubted_.insert(seen);
        doubts.push_back(OtherSeen(arrived));
      }
    }
    hashes_.push_back(HalfOf(range.log_hashes[i]));
  }
  while (hashes_.size() > kHashesHeldMax + range.arrivals.size()) {
    hashes_.pop_front();
    ++first_;
  }
  return doubts;
}

}  // namespace broodpact::replica
