// A server that has lost a part of its log: giving it back, and following it where it cannot have
// all of it back.

#include "client/base/status.h"
#include "client/replica/folding.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/loss.h"
#include "client/replica/internal/provisional.h"
#include "client/replica/internal/rep.h"
#include "client/replica/internal/repair_note.h"
#include "client/replica/replica.h"
#include "client/sync/head.h"

namespace broodpact::replica {

void Repair::Add(const Repair& more) {
  given_back += more.given_back;
  delivered_again += more.delivered_again;
  refused += more.refused;
  if (more.rewound_to) rewound_to = more.rewound_to;
  new_server = new_server || more.new_server;
}

absl::StatusOr<std::optional<Repair>> Replica::UntoldRepair() const {
  return ReadRepair(*rep_->store);
}

absl::Status Replica::ForgetRepair() {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  return DropRepair(*rep_->store);
}

absl::StatusOr<std::unique_ptr<sync::Recovery>> Replica::Rep::OpenRecovery(
    const sync::Credentials& credentials) const {
  return network.OpenRecovery(credentials, ledger->cooperative(), clock.NowMillis());
}

absl::Status Replica::Rep::Recover(const sync::Credentials& credentials, Synced& synced) {
  BP_ASSIGN_OR_RETURN(KnownLog known, ReadKnownLog(*store));
  const bool has_successor = known.HasSuccessor();
  BP_ASSIGN_OR_RETURN(const std::unique_ptr<sync::Recovery> server, OpenRecovery(credentials));
  BP_ASSIGN_OR_RETURN(LossRepair::Result result,
                      LossRepair(*store, *server, std::move(known)).Run());
  BP_RETURN_IF_ERROR(KeepEpochs(*store, result.epochs));
  if (result.doubt) {
    BP_RETURN_IF_ERROR(KeepDoubt(*store, *result.doubt));
    return ErrorOf(*result.doubt);
  }
  if (result.repair != Repair{}) {
    result.repair.new_server = has_successor;
    if (!synced.repair) synced.repair.emplace();
    synced.repair->Add(result.repair);
    BP_RETURN_IF_ERROR(KeepRepair(*store, result.repair));
  }
  if (!result.rewind_to) return absl::OkStatus();
  // The state at an earlier place is folded from the first arrival on.
  BP_RETURN_IF_ERROR(store->CheckHistory());
  return RewindTo(*result.rewind_to, result.head, result.refused);
}

absl::Status Replica::Rep::RewindTo(const facts::LogPoint& place,
                                    const std::optional<sync::Head>& head_there,
                                    const std::vector<store::PendingCommit>& refused) {
  std::vector<store::PendingCommit> waiting;
  for (const store::PendingCommit& one : refused) {
    if (one.chain.device != chain().device) waiting.push_back(one);
  }
  BP_RETURN_IF_ERROR(store->VisitArrivals(
      place.arrivals + 1, store->point().arrivals,
      [&](std::uint64_t, const store::StoredArrival& stored) -> absl::Status {
        BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
        verdicts_before.insert_or_assign(commit.hash, stored.verdict);
        if (commit.header.device != chain().device) return absl::OkStatus();
        // In the log a run has one signature; waiting, each commit has its own.
        waiting.push_back({.chain = facts::ChainOf(commit.header),
                           .seq = commit.header.seq,
                           .commit = {.bytes = stored.bytes,
                                      .signature = facts::SignCommit(OwnKey(), commit.hash)}});
        return absl::OkStatus();
      }));
  // The heads were of the log that is gone, and have been shown to the server. With the log, so
  // that there never is one without a head: by that a registrar gives it to another server.
  BP_RETURN_IF_ERROR(store->Rewind(
      place, {.pending = std::move(waiting),
              .meta = {{kMetaHead, head_there ? sync::EncodeHead(*head_there) : std::string()},
                       {kMetaPromised, ""},
                       {kMetaProvisional, ""}}}));
  BP_RETURN_IF_ERROR(FoldRest(*store));
  // The ledger remembers subjects of the fold that is gone.
  ledger = std::make_unique<Ledger>(*store);
  return Refold();
}

}  // namespace broodpact::replica
