#include "client/replica/internal/chain_target.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/internal/snapshot_notes.h"
#include "client/store/state_root.h"

namespace broodpact::replica {
namespace {

// How often a session that follows writes down the server's head.
constexpr std::int64_t kHeadIntervalMillis = 1'000;

bool Differ(const registry::Verdict& one, const registry::Verdict& other) {
  return one.kind != other.kind || one.reason != other.reason;
}

absl::Status OtherServerError() {
  return Fail(absl::StatusCode::kPermissionDenied, "SERVER_OTHER",
              "the server signs its log with another key than before; do not go on before its "
              "keeper has explained why");
}

absl::Status HoleError(std::uint64_t seq, std::uint64_t last) {
  return Fail(
      absl::StatusCode::kDataLoss, "CHAIN_HOLE",
      fmt::format("commit {} of this device comes after {}, and what was between is missing "
                  "from this folder; nothing of it was sent; put the folder back from a "
                  "backup, or join again from a fresh one",
                  seq, last));
}

}  // namespace

// NOLINTNEXTLINE(readability-function-size): six things that a replica has, each used here alone.
ChainTarget::ChainTarget(store::Store& database, Ledger& ledger, const ChainTask& task,
                         const std::vector<Replica::Undelivered>& undelivered,
                         const device::Clock& clock,
                         std::map<Hash, registry::Verdict> verdicts_before)
    : store_(database),
      ledger_(ledger),
      task_(task),
      clock_(clock),
      told_(std::move(verdicts_before)),
      seen_(database) {
  for (const Replica::Undelivered& one : undelivered) {
    told_.emplace(one.commit.hash, one.verdict);
    if (facts::ChainOf(one.commit.header) == task_.chain) own_.push_back(&one);
  }
}

std::optional<DeviceId> ChainTarget::device() const {
  return task_.carries ? std::optional<DeviceId>(task_.chain.device) : std::nullopt;
}

absl::Status ChainTarget::Apply(facts::Range received) {
  if (measure_at_ && received.before.arrivals < measure_at_->arrivals &&
      measure_at_->arrivals < received.after.arrivals) {
    const std::uint64_t arrivals = measure_at_->arrivals;
    // The end of a run by the server's word. If it is none, the range cannot be checked in two.
    if (received.signatures[arrivals - received.before.arrivals - 1]) {
      BP_RETURN_IF_ERROR(ApplyPart(facts::CutOff(received, arrivals)));
    } else {
      measure_at_.reset();
    }
  }
  return ApplyPart(std::move(received));
}

absl::Status ChainTarget::ApplyPart(facts::Range received) {
  const auto range = std::make_shared<const facts::Range>(std::move(received));
  BP_RETURN_IF_ERROR(LoadHeads());
  BP_ASSIGN_OR_RETURN(std::vector<Doubt> doubts, seen_.Follow(*range, epochs_));
  BP_RETURN_IF_ERROR(NoteDoubts(std::move(doubts), range->after));
  BP_RETURN_IF_ERROR(WritePromise(range->after.arrivals));
  const bool large = range->arrivals.size() >= kDurableRange;
  BP_ASSIGN_OR_RETURN(const std::vector<registry::Verdict> verdicts,
                      large ? ledger_.AppendAhead(range, task_.chain)
                            : ledger_.Append(*range, task_.chain, store::Durability::kWritten));
  commits_applied_ += range->arrivals.size();
  for (std::size_t i = 0; i < verdicts.size(); ++i) Compare(range->arrivals[i], verdicts[i]);
  return measure_at_ && range->after.arrivals == measure_at_->arrivals ? Measure()
                                                                       : absl::OkStatus();
}

absl::Status ChainTarget::HearSnapshot(const facts::LogPoint& snapshot) {
  // What this replica assumes itself, it attests to nobody.
  if (measures_there_alone_ || store_.base().arrivals > 0) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::optional<OwnRoot> own, ReadOwnRoot(store_));
  if (own && own->point.arrivals >= snapshot.arrivals) {
    // Unless it is of a log that the server has lost since.
    if (IsPlaceOf(store_, own->point).value_or(false)) return absl::OkStatus();
  }
  return MeasureAt(snapshot);
}

absl::Status ChainTarget::MeasureAt(const facts::LogPoint& place) {
  measures_there_alone_ = true;
  const std::uint64_t here = ledger_.point().arrivals;
  if (here > place.arrivals) return absl::OkStatus();
  measure_at_ = place;
  return here == place.arrivals ? Measure() : absl::OkStatus();
}

absl::Status ChainTarget::Measure() {
  measure_at_.reset();
  BP_RETURN_IF_ERROR(ledger_.Settle());
  BP_ASSIGN_OR_RETURN(const store::StateAt state,
                      store::StateOf(*store_.Pin(), ledger_.cooperative()));
  return KeepOwnRoot(
      store_,
      {.point = state.point, .root = store::RootOf(state), .fold_version = state.fold_version});
}

absl::StatusOr<std::vector<facts::SignedCommit>> ChainTarget::Undelivered(
    const facts::ChainHead& server_head) {
  std::vector<facts::SignedCommit> run;
  if (task_.work == ChainWork::kFetch) return run;
  if (task_.carries && !Continues(server_head)) return run;
  if (!task_.carries) BP_RETURN_IF_ERROR(CheckOnOwnChain(server_head));
  std::size_t bytes = 0;
  for (const Replica::Undelivered* one : own_) {
    const std::uint64_t seq = one->commit.header.seq;
    if (seq <= server_head.seq) continue;
    if (seq != server_head.seq + run.size() + 1) {
      return HoleError(seq, run.size() + server_head.seq);
    }
    bytes += one->signed_commit.bytes.size();
    if (run.size() == sync::kPushCommitsMax || (bytes > sync::kPushBytesMax && !run.empty())) {
      break;
    }
    run.push_back(one->signed_commit);
  }
  // Of what is carried, a commit may be vouched for by a later one of its run alone.
  while (!run.empty() && run.back().signature == Signature{}) run.pop_back();
  return run;
}

absl::Status ChainTarget::HearHead(const sync::Head& head) {
  BP_RETURN_IF_ERROR(LoadHeads());
  BP_RETURN_IF_ERROR(CheckKey(head));
  BP_RETURN_IF_ERROR(LoadDoubts());
  if (earlier_ && earlier_->epoch == head.epoch && head.point.arrivals < earlier_->point.arrivals) {
    return Convict(ShrunkLog(*earlier_, head));
  }
  BP_ASSIGN_OR_RETURN(const HeadFit fit, FitOf(store_, head));
  // Kept as a promise is: one that does not answer for it now is asked again. Where the two logs
  // part is not known.
  if (fit == HeadFit::kOther) return BreakPromise({.head = head}, head_.value_or(sync::Head{}));
  if (fit == HeadFit::kAhead) BP_RETURN_IF_ERROR(TakePromise(head));
  // Where there is nothing to fetch, a session may be whole before the head itself is handed on.
  if (fit == HeadFit::kOurs && head.point == store_.point()) {
    head_ = head;
    head_written_ = false;
  }
  if (promised_.size() > kPromisesMax) promised_.erase(promised_.begin());
  return absl::OkStatus();
}

absl::Status ChainTarget::HearEpochs(const sync::Epochs& epochs) {
  BP_RETURN_IF_ERROR(LoadHeads());
  for (const sync::Epoch& epoch : epochs) {
    if (!known_.IsServer(epoch.server_key)) return OtherServerError();
  }
  // Of a server before this one it need not know.
  sync::Epochs before = epochs_;
  const std::optional<PublicKey> teller = !epochs.empty()
                                              ? std::optional<PublicKey>(epochs.back().server_key)
                                          : head_ ? std::optional<PublicKey>(head_->server_key)
                                                  : std::nullopt;
  std::erase_if(before, [&](const sync::Epoch& one) { return one.server_key != teller; });
  if (sync::Joined(epochs_, epochs) != epochs_) {
    // What was heard before them stays heard.
    BP_RETURN_IF_ERROR(Settle());
    BP_RETURN_IF_ERROR(KeepEpochs(store_, epochs));
    loaded_ = false;
    BP_RETURN_IF_ERROR(LoadHeads());
  }
  if (sync::Joined(epochs, before) == epochs) return absl::OkStatus();
  return Fail(absl::StatusCode::kFailedPrecondition, "EPOCHS_FORGOTTEN",
              "the server has forgotten that it once lost a part of its log; sync again");
}

std::optional<sync::Head> ChainTarget::LastHead() const {
  const absl::StatusOr<KnownLog> known = ReadKnownLog(store_);
  return known.ok() ? known->Standing(known->head) : std::nullopt;
}

absl::Status ChainTarget::KeepHead(const sync::Head& head) {
  BP_RETURN_IF_ERROR(LoadHeads());
  BP_RETURN_IF_ERROR(CheckKey(head));
  BP_RETURN_IF_ERROR(ledger_.Settle());
  BP_RETURN_IF_ERROR(TakePromise(head));
  BP_RETURN_IF_ERROR(CheckPromises());
  head_ = head;
  head_written_ = false;
  const std::int64_t now_ms = clock_.NowMillis();
  if (now_ms - head_written_ms_ < kHeadIntervalMillis) return absl::OkStatus();
  head_written_ms_ = now_ms;
  return Settle();
}

absl::Status ChainTarget::LoadDoubts() {
  if (doubts_loaded_) return absl::OkStatus();
  doubts_loaded_ = true;
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> noted, store_.Meta(kMetaSeenOther));
  if (!noted || noted->empty()) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const std::vector<Doubt> kept, ReadDoubts(store_));
  for (Doubt& doubt : DecodeDoubts(*noted)) {
    // What was cut off before it was stored comes again; what the log has gone back from is gone.
    BP_ASSIGN_OR_RETURN(const bool is_here, IsPlaceOf(store_, doubt.ours.point));
    const bool explained = sync::MayBeLost(epochs_, doubt.theirs.point.arrivals);
    if (is_here && !explained && HasRoomFor(kept, doubt)) doubts_.push_back(std::move(doubt));
  }
  return EncodeDoubts(doubts_) == *noted ? absl::OkStatus() : WriteDoubts();
}

absl::Status ChainTarget::NoteDoubts(std::vector<Doubt> doubts, const facts::LogPoint& place) {
  if (doubts.empty()) return absl::OkStatus();
  BP_RETURN_IF_ERROR(LoadDoubts());
  for (Doubt& doubt : doubts) {
    doubt.ours.point = place;
    if (HasRoomFor(doubts_, doubt)) doubts_.push_back(std::move(doubt));
  }
  return WriteDoubts();
}

absl::Status ChainTarget::WriteDoubts() {
  BP_RETURN_IF_ERROR(ledger_.Settle());
  // The next durable write, of the part of the log itself, makes it durable too.
  return store_.PutMeta(kMetaSeenOther, EncodeDoubts(doubts_), store::Durability::kWritten);
}

absl::Status ChainTarget::WritePromise(std::uint64_t arrivals) {
  if (promised_.empty() || promise_reaches_ >= arrivals) return absl::OkStatus();
  BP_RETURN_IF_ERROR(ledger_.Settle());
  // One that the log has broken does not give way to a later one.
  BP_RETURN_IF_ERROR(HoldToPromises());
  promise_reaches_ = promised_.rbegin()->first;
  promise_written_ = EncodePromise(promised_.rbegin()->second);
  return store_.PutMeta(kMetaPromised, promise_written_, store::Durability::kWritten);
}

absl::Status ChainTarget::Settle() {
  BP_RETURN_IF_ERROR(ledger_.Settle());
  // The head first: it is to vouch for what the promise vouched for before that goes.
  if (!head_written_ && head_) {
    BP_RETURN_IF_ERROR(store_.PutMeta(kMetaHead, sync::EncodeHead(*head_)));
    head_written_ = true;
  }
  const std::string promise =
      promised_.empty() ? std::string() : EncodePromise(promised_.rbegin()->second);
  if (promise == promise_written_) return absl::OkStatus();
  promise_written_ = promise;
  promise_reaches_ = promised_.empty() ? 0 : promised_.rbegin()->first;
  // One that has been kept holds for ever, so that its leaving may get lost.
  const auto durability =
      promise.empty() ? store::Durability::kWritten : store::Durability::kSynced;
  return store_.PutMeta(kMetaPromised, promise, durability);
}

absl::Status ChainTarget::Finish() {
  BP_RETURN_IF_ERROR(ledger_.Settle());
  // Also where the session was cut off before its head came: a later promise would be kept in place
  // of the one that the log has broken.
  absl::Status held = CheckPromises();
  if (!held.ok() && !accusation_) return held;
  return Settle();
}

std::vector<Doubt> ChainTarget::TakeDoubts() {
  for (Doubt& doubt : doubts_) doubt.ours = head_.value_or(sync::Head{});
  return std::exchange(doubts_, {});
}

void ChainTarget::Compare(const facts::Arrived& arrived, const registry::Verdict& final_verdict) {
  const auto before = told_.find(arrived.commit.hash);
  if (before == told_.end()) return;
  if (Differ(before->second, final_verdict)) {
    changed_.push_back(
        {.arrival = arrived.arrival, .before = before->second, .after = final_verdict});
  }
  told_.erase(before);
}

std::map<Hash, registry::Verdict> ChainTarget::NotArrived(Verdicts verdicts) const {
  std::erase_if(verdicts, [&](const auto& one) { return !told_.contains(one.first); });
  return verdicts;
}

bool ChainTarget::Continues(const facts::ChainHead& server_head) const {
  return std::ranges::any_of(own_, [&](const Replica::Undelivered* one) {
    return facts::CheckFollows(server_head, one->commit).ok();
  });
}

absl::Status ChainTarget::CheckOnOwnChain(const facts::ChainHead& server_head) const {
  if (server_head.seq == 0) return absl::OkStatus();
  BP_ASSIGN_OR_RETURN(const facts::ChainHead arrived, ledger_.HeadOf(task_.chain));
  if (server_head.seq < arrived.seq) return absl::OkStatus();  // the log itself tells
  if (server_head == arrived) return absl::OkStatus();
  const bool own = std::ranges::any_of(own_, [&](const Replica::Undelivered* one) {
    return facts::HeadAfter(one->commit) == server_head;
  });
  if (own) return absl::OkStatus();
  return Fail(
      absl::StatusCode::kFailedPrecondition, "CHAIN_FORK",
      fmt::format("the server has a commit {} of this device that is not from here; nothing "
                  "is lost, sync again: what stands in the way is then stated again",
                  server_head.seq));
}

absl::Status ChainTarget::LoadHeads() {
  if (loaded_) return absl::OkStatus();
  loaded_ = true;
  BP_ASSIGN_OR_RETURN(known_, ReadKnownLog(store_));
  head_ = known_.Standing(known_.head);
  earlier_ = known_.Standing(known_.promised());
  epochs_ = known_.epochs;
  promised_.clear();
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> promise, store_.Meta(kMetaPromised));
  promise_written_ = promise.value_or("");
  promise_reaches_ = earlier_ ? earlier_->point.arrivals : 0;
  if (earlier_ && known_.promise) promised_.emplace(promise_reaches_, *known_.promise);
  return absl::OkStatus();
}

absl::Status ChainTarget::CheckKey(const sync::Head& head) const {
  // Once the newer one has been heard, the one before it is no server any more.
  const bool same = !head_ || head_->server_key == head.server_key;
  return same || known_.IsServer(head.server_key) ? absl::OkStatus() : OtherServerError();
}

absl::Status ChainTarget::TakePromise(const sync::Head& head) {
  const std::uint64_t arrivals = head.point.arrivals;
  const Promise taken =
      promised_.try_emplace(arrivals, Promise{.head = head, .common = store_.point()})
          .first->second;
  const bool same = taken.head.point == head.point && taken.head.tree_root == head.tree_root;
  return same ? absl::OkStatus() : BreakPromise(taken, head);
}

absl::Status ChainTarget::BreakPromise(const Promise& broken, const sync::Head& head) {
  // It alone is kept, to be shown to the server, which tells later ones again.
  promised_ = {{broken.head.point.arrivals, broken}};
  return Convict(TwoHistories(head, broken.head));
}

absl::Status ChainTarget::HoldToPromises() {
  for (const auto& [arrivals, promise] : promised_) {
    if (arrivals > store_.point().arrivals) break;
    BP_ASSIGN_OR_RETURN(const HeadFit fit, FitOf(store_, promise.head));
    if (fit != HeadFit::kOther) continue;
    const Promise broken = promise;  // what it is in goes
    return BreakPromise(broken, head_.value_or(sync::Head{}));
  }
  return absl::OkStatus();
}

absl::Status ChainTarget::CheckPromises() {
  BP_RETURN_IF_ERROR(HoldToPromises());
  promised_.erase(promised_.begin(), promised_.upper_bound(store_.point().arrivals));
  return absl::OkStatus();
}

absl::Status ChainTarget::Convict(const Doubt& doubt) {
  BP_RETURN_IF_ERROR(ledger_.Settle());
  accusation_ = doubt;
  return ErrorOf(doubt);
}

}  // namespace broodpact::replica
