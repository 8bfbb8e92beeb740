// A replica that starts from a snapshot: the start, and the history that is fetched, checked and
// put in its place afterwards; and what a replica that has folded the whole log says of a snapshot.

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "client/base/status.h"
#include "client/replica/folding.h"
#include "client/replica/internal/chain_target.h"
#include "client/replica/internal/folders.h"
#include "client/replica/internal/gate.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/pending.h"
#include "client/replica/internal/rep.h"
#include "client/replica/internal/repair_note.h"
#include "client/replica/internal/snapshot_notes.h"
#include "client/replica/internal/snapshot_start.h"
#include "client/replica/replica.h"
#include "client/replica/snapshot_root.h"
#include "client/sync/head.h"

namespace broodpact::replica {
namespace {

std::string MessageOf(const absl::Status& status) {
  return std::string(status.message());
}

// What to tell a newcomer of a snapshot that was not taken; nothing where it is the usual case.
std::optional<std::string> NoteOf(const absl::Status& status) {
  const std::string reason = ReasonOf(status);
  if (reason == "SNAPSHOT_NONE" || absl::IsUnimplemented(status)) return std::nullopt;
  if (reason == "ATTESTED_BY_FEW" || reason == "FOLD_OTHER" || absl::IsUnavailable(status)) {
    return fmt::format("{}; the whole log is fetched instead", MessageOf(status));
  }
  return fmt::format(
      "warning: {}; it was not taken, and the whole log is fetched and checked "
      "instead; tell the keeper of the server",
      MessageOf(status));
}

// How often a history is begun or taken up: a server may have lost something, also while others
// give it back.
constexpr int kFetchesPerFilling = 4;

// Small values that stay with a replica, whatever folder it is in. Epochs and doubts go with them,
// each joined with those of the history; head, origin and own root are of the log that they stand
// beside. There are no lost logs: no bundle is read before the history is here.
constexpr const char* kMetaCarried[] = {kMetaInstall,     kMetaSuccessors,    kMetaForsaken,
                                        kMetaServerCodes, kMetaRefusal,       kMetaJoining,
                                        kMetaRepair,      kMetaSnapshotFaults};

// Sets small values of a history to those of the replica that it is fetched for.
absl::Status CarryMeta(const store::Store& from, store::Store& to) {
  for (const char* const name : kMetaCarried) {
    BP_ASSIGN_OR_RETURN(const std::optional<std::string> value, from.Meta(name));
    if (value) BP_RETURN_IF_ERROR(to.PutMeta(name, *value));
  }
  BP_ASSIGN_OR_RETURN(const std::vector<Doubt> doubts, ReadDoubts(from));
  for (const Doubt& doubt : doubts) BP_RETURN_IF_ERROR(KeepDoubt(to, doubt));
  // After the doubts: those that they explain, also the ones that the history alone was told, go.
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(from));
  return KeepEpochs(to, known.epochs);
}

// Hands on what the server has promised the replica, unless the history has a promise that reaches
// as far: the next session holds the server to it.
absl::Status CarryPromise(const store::Store& from, store::Store& to) {
  BP_ASSIGN_OR_RETURN(const KnownLog before, ReadKnownLog(from));
  BP_ASSIGN_OR_RETURN(const KnownLog after, ReadKnownLog(to));
  const std::optional<sync::Head> promised = after.Standing(before.promised());
  const std::optional<sync::Head> kept = after.Standing(after.promised());
  if (!promised || (kept && kept->point.arrivals >= promised->point.arrivals)) {
    return absl::OkStatus();
  }
  return to.PutMeta(kMetaPromised, EncodePromise(*before.promise));
}

// What another process may have added to a replica.
struct Contents {
  facts::LogPoint point;
  std::vector<Hash> waiting;

  friend bool operator==(const Contents&, const Contents&) = default;
};

absl::StatusOr<Contents> ContentsOf(const store::Store& database) {
  Contents contents{.point = database.point(), .waiting = {}};
  BP_ASSIGN_OR_RETURN(const std::vector<store::PendingCommit> pending, database.Pending());
  for (const store::PendingCommit& one : pending) {
    contents.waiting.push_back(Sha256(one.commit.bytes));
  }
  return contents;
}

// Whether nobody has written to the replica since this process closed it.
absl::Status CheckUnchanged(const Home& home, store::Disk* disk, const Contents& before) {
  BP_ASSIGN_OR_RETURN(const std::unique_ptr<store::Store> database,
                      store::Store::Open(home.database(), store::Access::kReadOnly, disk));
  BP_ASSIGN_OR_RETURN(const Contents now, ContentsOf(*database));
  if (now == before) return absl::OkStatus();
  return Fail(absl::StatusCode::kUnavailable, "REPLICA_BUSY",
              "another process has written to the replica meanwhile; sync again");
}

std::string OtherStateFault(std::uint64_t arrivals, std::string_view what, std::string_view next) {
  return fmt::format(
      "the server's snapshot of {} arrivals is of another state than the log gives "
      "here: {}; {}",
      arrivals, what, next);
}

}  // namespace

absl::Status Replica::Rep::StartFromSnapshot(const sync::Credentials& credentials,
                                             const JoinOptions& options) {
  absl::StatusOr<SnapshotStart::Started> started = [&]() -> absl::StatusOr<SnapshotStart::Started> {
    BP_ASSIGN_OR_RETURN(
        const std::unique_ptr<sync::Snapshots> server,
        network.OpenSnapshots(credentials, ledger->cooperative(), clock.NowMillis()));
    return SnapshotStart(*store, *server, ledger->cooperative()).Run(options.on_part);
  }();
  if (store->base().arrivals == 0) {
    const std::optional<std::string> note = NoteOf(started.status());
    if (note && options.tell) options.tell(*note);
    return absl::OkStatus();
  }
  BP_RETURN_IF_ERROR(started.status());
  // The ledger has read the state when it was empty.
  ledger = std::make_unique<Ledger>(*store);
  BP_RETURN_IF_ERROR(Refold());
  if (options.tell) {
    options.tell(
        fmt::format("started from the server's snapshot of {} arrivals, by the word of "
                    "{}; `broodpact sync` fetches the history before it and checks it",
                    started->point.arrivals, KeepersOf(started->attesters)));
  }
  return absl::OkStatus();
}

absl::StatusOr<std::optional<std::string>> Replica::Rep::AttestSnapshot() {
  std::optional<std::string> fault;
  BP_ASSIGN_OR_RETURN(std::optional<OwnRoot> own, ReadOwnRoot(*store));
  if (!own || own->settled) return fault;
  // Of a log that the server has lost meanwhile it says nothing.
  if (!IsPlaceOf(*store, own->point).value_or(false)) return fault;
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> credentials, home.ReadCredentials());
  if (!credentials) return fault;
  const auto server = network.OpenSnapshots(*credentials, ledger->cooperative(), clock.NowMillis());
  if (!server.ok()) return fault;
  const absl::StatusOr<sync::SnapshotOffer> offer = (*server)->Offer(own->point.arrivals);
  const bool gone = absl::IsNotFound(offer.status());
  if (!offer.ok() && !gone) return fault;
  const sync::SnapshotManifest manifest = gone ? sync::SnapshotManifest() : offer->manifest;
  const bool same_place = manifest.point.arrivals == own->point.arrivals;
  if (same_place && manifest.fold_version == own->fold_version) {
    const Hash theirs = RootOf(manifest);
    if (theirs == own->root) {
      const std::string message =
          sync::AttestationMessage(ledger->cooperative(), own->point, own->root);
      const absl::Status attested =
          (*server)->Attest(own->point.arrivals, own->root, OwnKey().Sign(message));
      if (absl::IsUnavailable(attested)) return fault;
    } else {
      fault = OtherStateFault(own->point.arrivals,
                              "nothing here rests on it, and this device does not attest it",
                              "run `broodpact verify`; if it finds nothing, tell the keeper of the "
                              "server and the other keepers");
      BP_RETURN_IF_ERROR(KeepSnapshotFault(*store, *fault));
    }
  }
  own->settled = true;
  BP_RETURN_IF_ERROR(KeepOwnRoot(*store, *own));
  return fault;
}

absl::StatusOr<std::optional<MissingHistory>> Replica::History() const {
  const facts::LogPoint base = rep_->store->base();
  if (base.arrivals == 0) return std::optional<MissingHistory>();
  MissingHistory missing{.base = base};
  BP_ASSIGN_OR_RETURN(const std::optional<SnapshotOrigin> origin, ReadOrigin(*rep_->store));
  if (origin) {
    for (const Attester& one : origin->attesters) {
      if (std::ranges::find(missing.attested_by, one.keeper_name) == missing.attested_by.end()) {
        missing.attested_by.push_back(one.keeper_name);
      }
    }
  }
  // Another process may be at it, or nothing be there yet.
  const auto history =
      store::Store::Open(rep_->home.history(), store::Access::kReadOnly, rep_->disk);
  if (history.ok()) missing.checked = (*history)->point().arrivals;
  return std::optional<MissingHistory>(std::move(missing));
}

absl::StatusOr<std::vector<std::string>> Replica::SnapshotFaults() const {
  return ReadSnapshotFaults(*rep_->store);
}

absl::StatusOr<FilledHistory> Replica::FillHistory(const sync::Options& options) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  FilledHistory filled;
  if (rep_->store->CheckHistory().ok()) {
    filled.arrivals = rep_->store->point().arrivals;
    return filled;
  }
  BP_ASSIGN_OR_RETURN(std::unique_ptr<store::Store> history, rep_->FetchRepaired(options));
  BP_ASSIGN_OR_RETURN(const Rep::Judgement judgement, rep_->JudgeOrigin(*history));
  filled.compared = judgement.compared;
  filled.fault = judgement.fault;
  if (filled.fault) BP_RETURN_IF_ERROR(KeepSnapshotFault(*rep_->store, *filled.fault));
  filled.arrivals = history->point().arrivals;
  BP_RETURN_IF_ERROR(rep_->TakeHistory(std::move(history)));
  return filled;
}

absl::StatusOr<std::unique_ptr<store::Store>> Replica::Rep::FetchRepaired(
    const sync::Options& options) {
  absl::Status fetched;
  std::optional<Doubt> accused;
  for (int fetches = 0; fetches < kFetchesPerFilling; ++fetches) {
    if (accused) BP_RETURN_IF_ERROR(AskAboutLoss(options));
    BP_ASSIGN_OR_RETURN(std::unique_ptr<store::Store> history, OpenHistory());
    fetched = FetchHistory(*history, options);
    accused = accusation;
    if (fetched.ok()) return history;
    history.reset();
    if (accused) continue;
    if (ReasonOf(fetched) != "LOG_OTHER") return fetched;
    // A history that the server has lost a part of meanwhile is begun once more.
    std::error_code ignored;  // then the next opening finds it, and the server says the same again
    std::filesystem::remove_all(home.history(), ignored);
  }
  // A server that has lost nothing by its own word is held to what it signed.
  if (accused) BP_RETURN_IF_ERROR(KeepDoubt(*store, *accused));
  return fetched;
}

absl::Status Replica::Rep::AskAboutLoss(const sync::Options& options) {
  sync::Options once = options;
  once.mode = sync::Mode::kOnce;
  Synced synced;  // what was repaired is kept until it is told
  const absl::Status asked = SyncChain({chain(), ChainWork::kFetch}, once, synced);
  // It admits a loss, and this log begins too late to be taken back: the history takes its place.
  return ReasonOf(asked) == "HISTORY_MISSING" ? absl::OkStatus() : asked;
}

absl::StatusOr<std::unique_ptr<store::Store>> Replica::Rep::OpenHistory() const {
  absl::StatusOr<std::unique_ptr<store::Store>> opened =
      store::Store::Open(home.history(), store::Access::kReadWrite, disk);
  const bool other_rules = opened.ok() && IsFoldedOtherwise(**opened);
  if (!absl::IsDataLoss(opened.status()) && !other_rules) return opened;
  opened = absl::CancelledError();  // closes it
  // One that was cut off as it was made, damaged since, or folded by the rules of another version:
  // nothing of it is nowhere else.
  std::error_code ignored;
  std::filesystem::remove_all(home.history(), ignored);
  return store::Store::Open(home.history(), store::Access::kReadWrite, disk);
}

absl::Status Replica::Rep::FetchHistory(store::Store& history, const sync::Options& options) {
  accusation.reset();
  BP_ASSIGN_OR_RETURN(const std::optional<sync::Credentials> credentials, home.ReadCredentials());
  if (!credentials) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NO_SERVER",
                "no server yet; `broodpact join` with a code from one enters it");
  }
  Ledger log(history);
  if (log.cooperative() == Hash{}) BP_RETURN_IF_ERROR(log.SetCooperative(ledger->cooperative()));
  BP_RETURN_IF_ERROR(CarryMeta(*store, history));
  // What the server has signed for this replica, it has to keep to: every time, because a history
  // may be fetched over days.
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> signed_head, store->Meta(kMetaHead));
  if (const std::optional<sync::Head> last = sync::DecodeHead(signed_head.value_or(""))) {
    BP_RETURN_IF_ERROR(history.PutMeta(kMetaPromised, EncodePromise({.head = *last})));
  }
  const std::vector<Undelivered> none;
  ChainTarget target(history, log, {.chain = chain(), .work = ChainWork::kFetch}, none, clock);
  BP_RETURN_IF_ERROR(target.MeasureAt(store->base()));
  const absl::StatusOr<sync::Progress> progress = network.RunSession(*credentials, target, options);
  accusation = target.accusation();
  const absl::Status settled = target.Settle();
  BP_RETURN_IF_ERROR(progress.status());
  BP_RETURN_IF_ERROR(settled);
  return Weigh(target.TakeDoubts(), *credentials, history);
}

absl::StatusOr<Replica::Rep::Judgement> Replica::Rep::JudgeOrigin(
    const store::Store& history) const {
  Judgement judgement;
  BP_ASSIGN_OR_RETURN(const std::optional<SnapshotOrigin> origin, ReadOrigin(*store));
  BP_ASSIGN_OR_RETURN(const std::optional<OwnRoot> own, ReadOwnRoot(history));
  if (!origin) return judgement;
  const std::uint64_t base = store->base().arrivals;
  // A server that has lost that part of its log has another one now, and says so itself.
  BP_ASSIGN_OR_RETURN(const bool same_log, IsPlaceOf(history, store->base()));
  if (!same_log) return judgement;
  judgement.compared =
      own && own->point == store->base() && own->fold_version == origin->fold_version;
  if (!judgement.compared || own->root == origin->root) return judgement;
  judgement.fault = OtherStateFault(
      base,
      fmt::format("this replica had started from it, by the word of devices of {}",
                  KeepersOf(origin->attesters)),
      "what counts here now is the log alone; look again at what you have stated since, and show "
      "this to the other keepers");
  return judgement;
}

absl::StatusOr<std::vector<store::PendingCommit>> Replica::Rep::WaitingBeside(
    const store::Store& history) const {
  BP_ASSIGN_OR_RETURN(std::vector<store::PendingCommit> waiting, store->Pending());
  BP_ASSIGN_OR_RETURN(const bool nothing_lost, IsPlaceOf(history, store->point()));
  if (nothing_lost) return waiting;
  // Of a log that the server has lost a part of, own commits wait again, and those of others are
  // carried for them: perhaps nobody else has them any more.
  Deliveries deliveries(history);
  BP_RETURN_IF_ERROR(store->VisitArrivals(
      store->base().arrivals + 1, store->point().arrivals,
      [&](std::uint64_t, const store::StoredArrival& stored) -> absl::Status {
        BP_ASSIGN_OR_RETURN(const facts::Commit commit, facts::ParseCommit(stored.bytes));
        const bool own = commit.header.device == chain().device;
        store::PendingCommit one{
            .chain = facts::ChainOf(commit.header),
            .seq = commit.header.seq,
            .commit = {.bytes = stored.bytes,
                       .signature = own ? facts::SignCommit(OwnKey(), commit.hash)
                                        : stored.signature.value_or(Signature{})}};
        BP_ASSIGN_OR_RETURN(const bool arrived, deliveries.Has(one));
        if (!arrived) waiting.push_back(std::move(one));
        return absl::OkStatus();
      }));
  return waiting;
}

absl::Status Replica::Rep::TakeHistory(std::unique_ptr<store::Store> history) {
  // From here on a cut leaves the one folder or the other, and both know what waits.
  BP_RETURN_IF_ERROR(CarryMeta(*store, *history));
  BP_RETURN_IF_ERROR(CarryPromise(*store, *history));
  BP_ASSIGN_OR_RETURN(const std::vector<store::PendingCommit> waiting, WaitingBeside(*history));
  BP_ASSIGN_OR_RETURN(const std::vector<store::PendingCommit> before, history->Pending());
  BP_RETURN_IF_ERROR(history->ReplacePending(before, waiting));
  BP_RETURN_IF_ERROR(history->Flush());
  BP_ASSIGN_OR_RETURN(const Contents before_change, ContentsOf(*store));
  // Nobody else opens the replica between here and the end.
  BP_ASSIGN_OR_RETURN(const Gate gate, Gate::Take(home));
  overlay.reset();
  undelivered.clear();
  ledger.reset();
  history.reset();
  store.reset();
  const absl::Status changed =
      ChangeFolders(home, disk, [&] { return CheckUnchanged(home, disk, before_change); });
  // Where it did not go through, the replica goes on as it was, or as it is by now.
  BP_RETURN_IF_ERROR(FinishChange(home, disk));
  BP_ASSIGN_OR_RETURN(store, store::Store::Open(home.database(), store::Access::kReadWrite, disk));
  ledger = std::make_unique<Ledger>(*store);
  BP_RETURN_IF_ERROR(Refold());
  BP_RETURN_IF_ERROR(changed);
  return MendForks();
}

}  // namespace broodpact::replica
