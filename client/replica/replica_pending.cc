// Commits that have not arrived, own and carried, folded on top of the final state.

#include <algorithm>
#include <deque>
#include <map>
#include <set>
#include <tuple>
#include <utility>

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/replica/internal/delivery.h"
#include "client/replica/internal/lost_log.h"
#include "client/replica/internal/pending.h"
#include "client/replica/internal/provisional.h"
#include "client/replica/internal/rep.h"

namespace broodpact::replica {

absl::StatusOr<bool> Deliveries::Has(const store::PendingCommit& pending) {
  if (pending.chain != chain_) {
    BP_ASSIGN_OR_RETURN(head_, store_.HeadOf(pending.chain));
    chain_ = pending.chain;
  }
  if (pending.seq > head_.seq) return false;
  // What arrived before the log begins is known by the heads of the chains alone.
  if (pending.seq == head_.seq) return Sha256(pending.commit.bytes) == head_.hash;
  const absl::StatusOr<std::optional<std::string>> arrived =
      store_.CommitAt(pending.chain, pending.seq);
  if (ReasonOf(arrived.status()) == "HISTORY_MISSING") return false;
  BP_RETURN_IF_ERROR(arrived.status());
  return *arrived == pending.commit.bytes;
}

namespace {

// A commit that waits, as it is folded.
struct Waiting {
  facts::Commit commit;
  facts::SignedCommit signed_commit;
  std::int64_t clock_ms = 0;  // the latest that its device has claimed up to it
};

using Queues = std::map<DeviceId, std::deque<Waiting>>;

// The order in which the fronts of the queues are folded.
using Place = std::tuple<std::int64_t, Hash, DeviceId>;

Place PlaceOf(const Waiting& one) {
  return {one.clock_ms, one.commit.hash, one.commit.header.device};
}

// Takes the queues apart: devices in their own order, and among them by clock, then hash.
std::vector<Waiting> InOrder(Queues queues) {
  std::set<Place> fronts;
  for (const auto& [device, queue] : queues) fronts.insert(PlaceOf(queue.front()));
  std::vector<Waiting> order;
  while (!fronts.empty()) {
    std::deque<Waiting>& queue = queues.at(std::get<DeviceId>(*fronts.begin()));
    fronts.erase(fronts.begin());
    order.push_back(std::move(queue.front()));
    queue.pop_front();
    if (!queue.empty()) fronts.insert(PlaceOf(queue.front()));
  }
  return order;
}

// Puts a commit behind those of its device.
void Enqueue(std::deque<Waiting>& queue, facts::Commit commit, facts::SignedCommit signed_commit) {
  std::int64_t clock_ms = commit.header.clock_ms;
  if (!queue.empty()) clock_ms = std::max(clock_ms, queue.back().clock_ms);
  queue.push_back({std::move(commit), std::move(signed_commit), clock_ms});
}

// Folds one on top of `state`, and notes what that makes of it.
void FoldOn(registry::State& state, Replica::Undelivered& one) {
  const std::int64_t clock_ms = one.commit.header.clock_ms;
  facts::Arrived arrived{.commit = std::move(one.commit), .arrival = 0, .time_ms = clock_ms};
  one.verdict = registry::Fold(state, arrived);
  one.commit = std::move(arrived.commit);
}

}  // namespace

absl::StatusOr<bool> Deliveries::IsAside(const facts::Commit& commit) {
  const facts::ChainId chain = facts::ChainOf(commit.header);
  if (chain == begun_) return aside_;
  begun_ = chain;
  BP_ASSIGN_OR_RETURN(const facts::ChainHead arrived, store_.HeadOf(chain));
  aside_ = !facts::CheckFollows(arrived, commit).ok();
  if (aside_) return aside_;
  BP_ASSIGN_OR_RETURN(const auto device, registry::Read<registry::Device>(store_, chain.device));
  aside_ = !device.has_value();
  return aside_;
}

absl::StatusOr<bool> Deliveries::IsStatedAgain(const facts::Commit& commit) const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes,
                      store_.Subject({registry::Kind::kBranch, commit.token().bytes}));
  const auto branch = bytes ? registry::Decode<registry::Branch>(*bytes) : std::nullopt;
  return branch && branch->commit == commit.hash;
}

absl::Status Replica::Rep::Refold() {
  // So that there is something to be shown also where what waits cannot be read.
  overlay.emplace(*store);
  BP_RETURN_IF_ERROR(ReadWaiting({}));
  return FoldWaiting();
}

absl::Status Replica::Rep::ReadWaiting(const std::map<Hash, registry::Verdict>& verdicts) {
  BP_ASSIGN_OR_RETURN(std::vector<store::PendingCommit> pending, store->Pending());
  const facts::ChainId own = chain();
  BP_ASSIGN_OR_RETURN(head, store->HeadOf(own));
  NoteVerdicts();
  undelivered.clear();
  aside.clear();
  Deliveries deliveries(*store);
  std::vector<store::PendingCommit> delivered;
  Queues queues;
  for (store::PendingCommit& one : pending) {
    // What arrived by another way than from here is not undelivered any more. Another commit at the
    // same place does not make it so: then this one is the other branch of a fork.
    BP_ASSIGN_OR_RETURN(const bool arrived, deliveries.Has(one));
    if (arrived) {
      delivered.push_back(std::move(one));
      continue;
    }
    BP_ASSIGN_OR_RETURN(facts::Commit commit, facts::ParseCommit(one.commit.bytes));
    const bool of_another = one.chain.device != own.device;
    BP_ASSIGN_OR_RETURN(const bool is_aside,
                        of_another ? deliveries.IsAside(commit) : absl::StatusOr<bool>(false));
    if (is_aside) {
      BP_ASSIGN_OR_RETURN(const bool again, deliveries.IsStatedAgain(commit));
      if (again) {
        delivered.push_back(std::move(one));
      } else {
        aside.push_back(std::move(one.commit));
      }
      continue;
    }
    if (one.chain == own) head = facts::HeadAfter(commit);
    Enqueue(queues[one.chain.device], std::move(commit), std::move(one.commit));
  }
  if (key && !delivered.empty()) BP_RETURN_IF_ERROR(store->ReplacePending(delivered, {}));
  for (Waiting& one : InOrder(std::move(queues))) {
    const auto known = verdicts.find(one.commit.hash);
    undelivered.push_back({.commit = std::move(one.commit),
                           .verdict = known == verdicts.end() ? registry::Verdict{} : known->second,
                           .signed_commit = std::move(one.signed_commit)});
  }
  if (undelivered.empty() || ledger->cooperative() != Hash{} || !key) return absl::OkStatus();
  // Founding or joining was cut off after its commit was stored: it holds.
  const facts::Commit& first = undelivered.front().commit;
  return ledger->SetCooperative(first.header.cooperative == Hash{} ? first.hash
                                                                   : first.header.cooperative);
}

absl::Status Replica::Rep::FoldWaiting() {
  registry::Layer& laid = overlay.emplace(*store);
  const std::unique_ptr<registry::Source> source = store->ForFold();
  registry::State state(*source);
  for (Undelivered& one : undelivered) FoldOn(state, one);
  BP_RETURN_IF_ERROR(state.source_status());
  laid.Lay(state.TakeChanges());
  return key ? KeepProvisional(*store, undelivered) : absl::OkStatus();
}

absl::Status Replica::Rep::ReplaceWaiting(const std::vector<store::PendingCommit>& gone,
                                          const std::vector<store::PendingCommit>& again) {
  BP_RETURN_IF_ERROR(ForgetProvisional(*store));
  BP_RETURN_IF_ERROR(store->ReplacePending(gone, again));
  return Refold();
}

absl::Status Replica::FoldWaiting() {
  // Without a store there was an error as the history was put in its place, which is told.
  if (rep_->overlay || rep_->store == nullptr) return absl::OkStatus();
  return rep_->FoldWaiting();
}

absl::StatusOr<bool> Replica::Rep::DeliverInOrder(Synced& synced) {
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> credentials, home.ReadCredentials());
  if (!credentials) return true;
  BP_ASSIGN_OR_RETURN(const auto server, OpenRecovery(*credentials));
  BP_ASSIGN_OR_RETURN(const Showing shown, ShowLostLogs(*store, *server));
  synced.progress.commits_sent += shown.arrived;
  if (shown.waits) return false;
  for (const sync::LogPart& part : PartsOf(undelivered)) {
    const absl::StatusOr<sync::Redelivery> made = server->DeliverAgain(part, std::nullopt);
    // The session of the chain says why.
    if (!made.ok()) return true;
    synced.progress.commits_sent += made->arrived;
  }
  return true;
}

absl::StatusOr<std::optional<PublicKey>> Replica::Rep::KeyOf(const DeviceId& device) const {
  BP_ASSIGN_OR_RETURN(const std::optional<registry::Device> known,
                      registry::Read<registry::Device>(Laid(), device));
  return known ? std::optional<PublicKey>(known->key) : std::nullopt;
}

std::uint64_t Replica::aside() const {
  return rep_->aside.size();
}

std::uint64_t Replica::carried() const {
  const DeviceId own = rep_->chain().device;
  return static_cast<std::uint64_t>(std::ranges::count_if(
      rep_->undelivered, [&](const Undelivered& one) { return one.commit.header.device != own; }));
}

}  // namespace broodpact::replica
