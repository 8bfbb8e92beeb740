// Sync: the replica as a session's target, and what follows from what came in.

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "client/base/day.h"
#include "client/base/status.h"
#include "client/replica/internal/certify.h"
#include "client/replica/internal/chain_target.h"
#include "client/replica/internal/history.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/lost_log.h"
#include "client/replica/internal/refusal.h"
#include "client/replica/internal/rep.h"
#include "client/replica/replica.h"
#include "client/sync/head.h"

namespace broodpact::replica {
namespace {

// How often a sync begins a new life of the device before it gives up: each time, another copy of
// the device would have to have taken the life in the very moment before.
constexpr int kLivesPerSync = 4;

// How often a session may find that the server has lost something, while others give it back too.
constexpr int kRepairsPerSync = 3;

// Adds what one session did to what those before it did.
void Add(const sync::Progress& session, sync::Progress& all) {
  all.commits_sent += session.commits_sent;
  all.commits_received += session.commits_received;
  all.arrivals = session.arrivals;
  all.arrivals_server = session.arrivals_server;
  if (all.server_ahead_ms == 0) all.server_ahead_ms = session.server_ahead_ms;
}

// Whether the server has never had what a commit says it has seen.
bool IsOfUnseen(const absl::Status& status) {
  return ReasonOf(status) == "SEEN_AHEAD" || ReasonOf(status) == "SEEN_OTHER";
}

// Whether what stood in the way of a delivery for somebody else stands in the way of all: what the
// server has against one commit or its author does not.
bool StopsAll(const absl::Status& status) {
  const std::string reason = ReasonOf(status);
  return reason != "CHAIN_FORK" && reason != "CHAIN_HOLE" && reason != "DEVICE_UNKNOWN" &&
         !IsOfUnseen(status) && reason != "SIGNATURE_BAD" && reason != "DEVICE_OTHER" &&
         reason != "COMMIT_FORM" &&
         // Of its author; where it is this device itself, the own chain comes to it too.
         !IsRefusal(status);
}

bool IsStaleCertificate(const absl::Status& status) {
  const std::string reason = ReasonOf(status);
  // Replaced: a rotation of the key that was cut off before the certificate.
  // None: its file was emptied, as a disk that was full leaves it, or is gone.
  // Damaged: a renewal that was cut off between the key and the certificate.
  // Other: files of two homes that were mixed up.
  return reason == "CERTIFICATE_EXPIRED" || reason == "CERTIFICATE_OTHER" ||
         reason == "CERTIFICATE_DAMAGED" || reason == "NO_CERTIFICATE" ||
         reason == "DEVICE_REPLACED";
}

absl::Status EmptyServerError() {
  return Fail(absl::StatusCode::kFailedPrecondition, "SERVER_EMPTY",
              "the server has no log of this cooperative any more; what was recorded is kept: a "
              "registrar gives it the log again (broodpact server take), then sync again");
}

// A server that cannot prove itself on the day that this clock says, to a device whose certificate
// has run out on that day: it is rather the clock than the server.
absl::Status AsClockSays(const absl::Status& status, std::int64_t now_ms) {
  if (ReasonOf(status) != "SERVER_OTHER") return status;
  return Fail(absl::StatusCode::kFailedPrecondition, "CLOCK_WRONG",
              fmt::format("the clock of this computer says {}, when neither this device's "
                          "certificate nor the server's is good; set the clock and sync again, "
                          "what was recorded is kept",
                          InstantText(now_ms)));
}

// Whether a session ended because the server does not know of something that it was told once. A
// device that it has forgotten is unknown to it; so may be one that somebody carries for.
bool IsOfForgetting(const absl::Status& status, const ChainTask& task) {
  const std::string reason = ReasonOf(status);
  return reason == "LOG_OTHER" || reason == "EPOCHS_FORGOTTEN" ||
         (reason == "DEVICE_UNKNOWN" && !task.carries);
}

// Whether the whole log is to be here first, which Sync sees to; or at the server, again.
bool WaitsForLog(const absl::Status& recovered) {
  const std::string reason = ReasonOf(recovered);
  return reason == "HISTORY_MISSING" || reason == "SERVER_BEHIND" || reason == "SERVER_UNKNOWN";
}

// Whether there is nothing more to try: the server is convicted already, or does not answer, or
// this replica cannot tell what it would hold against it.
bool EndsRepairs(const absl::Status& recovered) {
  const std::string reason = ReasonOf(recovered);
  return reason == "LOG_SHRUNK" || reason == "LOG_FORKED" || reason == "STORE_DAMAGED" ||
         reason == "STORE_READ" || IsNoAnswer(recovered);
}

// Keeps those doubts about what commits have seen that no loss explains which is known of by now.
// Returns the first of them.
absl::StatusOr<std::optional<Doubt>> KeepUnexplained(store::Store& database,
                                                     const std::vector<Doubt>& doubts) {
  std::optional<Doubt> first;
  if (doubts.empty()) return first;
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  for (const Doubt& doubt : doubts) {
    if (sync::MayBeLost(known.epochs, doubt.theirs.point.arrivals)) continue;
    BP_RETURN_IF_ERROR(KeepDoubt(database, doubt));
    if (!first) first = doubt;
  }
  return first;
}

absl::StatusOr<sync::Credentials> Renewed(sync::Network& network, const Home& home,
                                          sync::Credentials credentials, const Signer& device) {
  BP_RETURN_IF_ERROR(Certify(credentials, [&](const PublicKey& tls_key) {
    return network.Renew(credentials, device, tls_key, {});
  }));
  BP_RETURN_IF_ERROR(home.WriteCredentials(credentials));
  return credentials;
}

}  // namespace

absl::StatusOr<std::optional<sync::Head>> Replica::LastHead() const {
  BP_ASSIGN_OR_RETURN(const std::optional<std::string> bytes, rep_->store->Meta(kMetaHead));
  if (!bytes) return std::optional<sync::Head>();
  return sync::DecodeHead(*bytes);
}

absl::StatusOr<std::vector<Doubt>> Replica::Doubts() const {
  return ReadDoubts(*rep_->store);
}

absl::Status Replica::Rep::SyncChain(const ChainTask& task, const sync::Options& options,
                                     Synced& synced) {
  BP_ASSIGN_OR_RETURN(std::optional<sync::Credentials> credentials, home.ReadCredentials());
  if (!credentials) {
    return Fail(absl::StatusCode::kFailedPrecondition, "NO_SERVER",
                "no server yet; `broodpact join` with a code from one enters it");
  }
  absl::Status status = RepairedSession(*credentials, task, options, synced);
  if (ReasonOf(status) != "DEVICE_UNKNOWN" || task.carries) return status;
  BP_RETURN_IF_ERROR(EnterAgain(*credentials, status));
  return RepairedSession(*credentials, task, options, synced);
}

absl::Status Replica::Rep::RepairedSession(sync::Credentials& credentials, const ChainTask& task,
                                           const sync::Options& options, Synced& synced) {
  absl::Status status = TrySession(credentials, task, options, synced);
  const auto is_loss = [&] { return accusation || IsOfForgetting(status, task); };
  for (int repairs = 0; repairs < kRepairsPerSync && is_loss(); ++repairs) {
    absl::Status recovered = Recover(credentials, synced);
    if (WaitsForLog(recovered)) return recovered;
    if (ReasonOf(recovered) == "COOPERATIVE_OTHER") return EmptyServerError();
    if (!recovered.ok() && ReasonOf(status) == "DEVICE_UNKNOWN") {
      // Not one that it once certified, then: it may never have heard of it.
      BP_RETURN_IF_ERROR(EnterAgain(credentials, status));
      status = TrySession(credentials, task, options, synced);
      continue;
    }
    if (EndsRepairs(recovered)) return recovered;
    // A server that does not say what it lost is held to what it signed.
    const bool says_nothing = !recovered.ok() && (accusation || absl::IsUnimplemented(recovered));
    if (says_nothing) return Accuse(credentials, status);
    BP_RETURN_IF_ERROR(recovered);
    status = TrySession(credentials, task, options, synced);
  }
  return is_loss() ? Accuse(credentials, status) : status;
}

absl::Status Replica::Rep::EnterAgain(sync::Credentials& credentials, const absl::Status& unknown) {
  const absl::Status entered = Certify(
      credentials, [&](const PublicKey& tls_key) { return JoinAgain(credentials, tls_key); });
  if (ReasonOf(entered) == "INVITE_UNKNOWN") {
    return Fail(absl::StatusCode::kUnauthenticated, "DEVICE_UNKNOWN",
                "the server has lost this device's entry, and the invitation that it was by; what "
                "was recorded is kept: once a member who has them has synced, sync again; or enter "
                "with a new invitation of a registrar (`broodpact join -`)");
  }
  // It was never in, or somebody else is by its invitation.
  if (!entered.ok()) return unknown;
  return home.WriteCredentials(credentials);
}

absl::Status Replica::Rep::Accuse(const sync::Credentials& credentials,
                                  const absl::Status& status) {
  if (!accusation) {
    return ReasonOf(status) == "LOG_OTHER" ? Examine(credentials, status) : status;
  }
  BP_RETURN_IF_ERROR(KeepDoubt(*store, *accusation));
  return status;
}

absl::Status Replica::Rep::TrySession(sync::Credentials& credentials, const ChainTask& task,
                                      const sync::Options& options, Synced& synced) {
  ChainTarget target(*store, *ledger, task, undelivered, clock, verdicts_before);
  absl::StatusOr<sync::Progress> progress = network.RunSession(credentials, target, options);
  if (!progress.ok() && key && IsStaleCertificate(progress.status())) {
    const absl::StatusOr<sync::Credentials> renewed = Renewed(network, home, credentials, *key);
    if (!renewed.ok()) return AsClockSays(renewed.status(), clock.NowMillis());
    credentials = *renewed;
    progress = network.RunSession(credentials, target, options);
  }
  verdicts_before = target.NotArrived(std::move(verdicts_before));
  for (ChangedVerdict& changed : target.TakeChanged()) synced.changed.push_back(std::move(changed));
  // What came in before an error stays, and shows.
  absl::Status kept = target.Finish();
  accusation = target.accusation();
  if (kept.ok() && target.commits_applied() >= kDurableRange) store->BeginFlush();
  if (absl::Status refolded = Refold(); kept.ok()) kept = refolded;
  // What came may stand where an own commit waits to go: a later session would find nothing amiss.
  if (kept.ok()) kept = MendForks();
  const std::vector<Doubt> doubts = target.TakeDoubts();
  if (!progress.ok()) {
    // What has come in does not come again.
    BP_RETURN_IF_ERROR(KeepUnexplained(*store, doubts).status());
    return progress.status();
  }
  BP_RETURN_IF_ERROR(kept);
  BP_RETURN_IF_ERROR(Weigh(doubts, credentials, *store));
  Add(*progress, synced.progress);
  return absl::OkStatus();
}

absl::Status Replica::Rep::Weigh(const std::vector<Doubt>& doubts,
                                 const sync::Credentials& credentials, store::Store& database) {
  if (doubts.empty()) return absl::OkStatus();
  // The loss may have been told by somebody else while the session went on.
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(database));
  const auto server = OpenRecovery(credentials);
  if (server.ok()) {
    const auto compared = (*server)->Compare({database.point()}, known.remembered());
    if (compared.ok() && known.IsServer(compared->head.server_key)) {
      BP_RETURN_IF_ERROR(KeepEpochs(database, compared->epochs));
    }
  }
  BP_ASSIGN_OR_RETURN(const std::optional<Doubt> first, KeepUnexplained(database, doubts));
  return first ? ErrorOf(*first) : absl::OkStatus();
}

absl::Status Replica::Rep::Examine(const sync::Credentials& credentials,
                                   const absl::Status& refusal) {
  const absl::StatusOr<sync::Head> told =
      network.FetchHead(credentials, ledger->cooperative(), clock.NowMillis());
  BP_ASSIGN_OR_RETURN(const KnownLog known, ReadKnownLog(*store));
  const std::optional<sync::Head> kept = known.Standing(known.head);
  if (known.damaged) return DamagedLogError();
  // Nothing to hold against each other: the refusal says what is known.
  if (!told.ok() || !kept) return refusal;
  BP_ASSIGN_OR_RETURN(const HeadFit theirs, FitOf(*store, *told));
  if (theirs == HeadFit::kBefore) return refusal;
  // A log that this one begins with is shorter; a server of another epoch says so.
  const bool shrunk = theirs == HeadFit::kOurs && told->epoch == kept->epoch &&
                      told->point.arrivals < kept->point.arrivals;
  if (theirs == HeadFit::kOurs && !shrunk) return refusal;
  const Doubt doubt = shrunk ? ShrunkLog(*kept, *told) : TwoHistories(*kept, *told);
  BP_RETURN_IF_ERROR(KeepDoubt(*store, doubt));
  return ErrorOf(doubt);
}

absl::Status Replica::Rep::SyncAll(const sync::Options& options, Synced& synced) {
  std::set<facts::ChainId> earlier;
  std::set<facts::ChainId> carried;
  for (const Undelivered& one : undelivered) {
    const facts::ChainId id = facts::ChainOf(one.commit.header);
    if (id.device != chain().device) carried.insert(id);
    if (id.device == chain().device && id != chain()) earlier.insert(id);
  }
  sync::Options once = options;
  once.mode = sync::Mode::kOnce;
  // What is carried may rest on own commits, and they on it: a session for each chain would tear
  // that apart. First the log is to be the server's, mended where it lost something.
  BP_ASSIGN_OR_RETURN(const std::vector<LostLog> lost, ReadLostLogs(*store));
  if (!carried.empty() || !lost.empty()) {
    absl::Status fetched = SyncChain({chain(), ChainWork::kFetch}, once, synced);
    // As long as a lost log is to be shown, nothing of it may go out as new.
    if (!fetched.ok() && !lost.empty()) return fetched;
    BP_ASSIGN_OR_RETURN(const bool may_carry,
                        fetched.ok() ? DeliverInOrder(synced) : absl::StatusOr<bool>(true));
    if (!may_carry) carried.clear();
  }
  for (const facts::ChainId& id : carried) {
    absl::Status status = SyncChain({.chain = id, .carries = true}, once, synced);
    if (!status.ok() && StopsAll(status)) return status;
  }
  for (const facts::ChainId& id : earlier) {
    BP_RETURN_IF_ERROR(SyncChain({.chain = id}, once, synced));
  }
  return SyncPresentLife(options, synced);
}

absl::Status Replica::Rep::SyncPresentLife(const sync::Options& options, Synced& synced) {
  const auto waits = [this] {
    return std::ranges::any_of(undelivered, [this](const Undelivered& one) {
      return facts::ChainOf(one.commit.header) == chain();
    });
  };
  // What came in may have taken the place of an own commit, of another life: that is stated again
  // in this one once the session is over.
  for (int sessions = 0; sessions < kLivesPerSync; ++sessions) {
    BP_RETURN_IF_ERROR(SyncChain({.chain = chain()}, options, synced));
    if (!waits() || options.stop.stop_requested()) break;
  }
  return absl::OkStatus();
}

absl::StatusOr<Synced> Replica::Sync(const sync::Options& options) {
  absl::StatusOr<Synced> synced = SyncWaiting(options);
  const absl::Status folded = FoldWaiting();
  BP_RETURN_IF_ERROR(synced.status());
  BP_RETURN_IF_ERROR(folded);
  BP_RETURN_IF_ERROR(rep_->KnowSelf());
  return synced;
}

absl::StatusOr<Synced> Replica::SyncWaiting(const sync::Options& options) {
  BP_RETURN_IF_ERROR(rep_->CheckWritable());
  BP_RETURN_IF_ERROR(rep_->CheckNotLost());
  BP_RETURN_IF_ERROR(CheckFounded(cooperative()));
  Synced synced;
  absl::Status status = rep_->SyncAll(options, synced);
  if (ReasonOf(status) == "HISTORY_MISSING") {
    // The server has lost something, and what this log began with cannot be held against it.
    sync::Options once = options;
    once.mode = sync::Mode::kOnce;
    BP_RETURN_IF_ERROR(FillHistory(once).status());
    status = rep_->SyncAll(options, synced);
  }
  const auto has_no_place = [&] { return ReasonOf(status) == "CHAIN_FORK" || IsOfUnseen(status); };
  for (int lives = 0; has_no_place() && lives < kLivesPerSync; ++lives) {
    // With the whole log at hand it shows which own commits arrived, and which life is free.
    sync::Options once = options;
    once.mode = sync::Mode::kOnce;
    BP_RETURN_IF_ERROR(rep_->SyncChain({rep_->chain(), ChainWork::kFetch}, once, synced));
    if (IsOfUnseen(status)) BP_RETURN_IF_ERROR(rep_->MendSeen());
    status = rep_->SyncAll(options, synced);
  }
  BP_ASSIGN_OR_RETURN(const std::uint64_t leaving, rep_->CommitsUpToLeaving(status));
  BP_RETURN_IF_ERROR(rep_->KeepRefusal(status));
  status = rep_->WithWayBack(status);
  if (leaving > 0) {
    synced.left = std::string(status.message());
    synced.progress.commits_sent = std::max(synced.progress.commits_sent, leaving);
    synced.point = rep_->store->point();
    return synced;
  }
  BP_RETURN_IF_ERROR(status);
  BP_ASSIGN_OR_RETURN(synced.snapshot_fault, rep_->AttestSnapshot());
  BP_ASSIGN_OR_RETURN(synced.restated_in_vain, rep_->RestatedInVain());
  synced.restated = std::exchange(rep_->restated, {}).size();
  synced.point = rep_->store->point();
  return synced;
}

}  // namespace broodpact::replica
