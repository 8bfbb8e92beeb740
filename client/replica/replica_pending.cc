// Own commits that have not arrived, folded on top of the final state.

#include "client/base/status.h"
#include "client/registry/fold.h"
#include "client/replica/internal/pending.h"
#include "client/replica/internal/rep.h"

namespace broodpact::replica {

absl::StatusOr<bool> Deliveries::Has(const store::PendingCommit& pending) {
  if (pending.chain != chain_) {
    BP_ASSIGN_OR_RETURN(head_, store_.HeadOf(pending.chain));
    chain_ = pending.chain;
  }
  if (pending.seq > head_.seq) return false;
  BP_ASSIGN_OR_RETURN(const std::optional<std::uint64_t> arrival,
                      store_.ArrivalOf(pending.chain, pending.seq));
  if (!arrival) return false;
  BP_ASSIGN_OR_RETURN(const store::StoredArrival stored, store_.ReadArrival(*arrival));
  return stored.bytes == pending.commit.bytes;
}

absl::Status Replica::Rep::Refold() {
  BP_ASSIGN_OR_RETURN(std::vector<store::PendingCommit> pending, store->Pending());
  BP_ASSIGN_OR_RETURN(head, store->HeadOf(chain()));
  overlay.emplace(*store);
  undelivered.clear();
  const std::unique_ptr<registry::Source> source = store->ForFold();
  registry::State state(*source);
  Deliveries deliveries(*store);
  for (store::PendingCommit& one : pending) {
    // What arrived by another way than from here is not undelivered any more. Another commit at the
    // same place does not make it so: then this one is the other branch of a fork.
    BP_ASSIGN_OR_RETURN(const bool arrived, deliveries.Has(one));
    if (arrived) continue;
    BP_ASSIGN_OR_RETURN(facts::Commit commit, facts::ParseCommit(one.commit.bytes));
    if (one.chain == chain()) head = facts::HeadAfter(commit);
    registry::Verdict verdict =
        registry::Fold(state, {.commit = commit, .arrival = 0, .time_ms = commit.header.clock_ms});
    undelivered.push_back({.commit = std::move(commit),
                           .verdict = std::move(verdict),
                           .signed_commit = std::move(one.commit)});
  }
  BP_RETURN_IF_ERROR(state.source_status());
  overlay->Lay(state.TakeChanges());
  if (undelivered.empty() || ledger->cooperative() != Hash{} || !key) return absl::OkStatus();
  // Founding or joining was cut off after its commit was stored: it holds.
  const facts::Commit& first = undelivered.front().commit;
  return ledger->SetCooperative(first.header.cooperative == Hash{} ? first.hash
                                                                   : first.header.cooperative);
}

}  // namespace broodpact::replica
