#pragma once

// What a Replica is made of, for the files that implement it.

#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "client/base/check.h"
#include "client/replica/replica.h"
#include "client/sync/invite_code.h"

namespace broodpact::replica {

struct BundleReport;
class BundleSurvey;

// Names of small values in the store.
inline constexpr char kMetaInstall[] = "install";     // the number that Home::ReadInstall has too
inline constexpr char kMetaHead[] = "head";           // the server's last head (sync/head.h)
inline constexpr char kMetaPromised[] = "promised";   // a head of more arrivals (known_log.h)
inline constexpr char kMetaLostLogs[] = "lost-logs";  // that bundles have shown (lost_log.h)
inline constexpr char kMetaEpochs[] = "epochs";       // the server's losses (sync/epoch.h)
inline constexpr char kMetaSuccessors[] = "successors";  // keys of servers that took over (32 each)
inline constexpr char kMetaForsaken[] = "forsaken";      // keys of servers before them (32 each)
inline constexpr char kMetaServerCodes[] = "server-codes";  // a line each (sync/server_code.h)
inline constexpr char kMetaDoubts[] = "doubts";             // what convicts the server (history.h)
inline constexpr char kMetaRefusal[] = "refusal";           // why the server refuses this device
inline constexpr char kMetaJoining[] = "joining";           // the commit that a Join was tried with

// What a session does for a chain: deliver what is undelivered and fetch, or fetch alone.
enum class ChainWork { kDeliver, kFetch };

struct ChainTask {
  facts::ChainId chain{};
  ChainWork work = ChainWork::kDeliver;
  bool carries = false;  // the chain is somebody else's
};

struct Replica::Rep {
  Rep(Home home_in, const Surroundings& surroundings)
      : home(std::move(home_in)),
        clock(surroundings.clock),
        randomness(surroundings.randomness),
        network(surroundings.network),
        disk(surroundings.disk) {}

  Home home;
  const device::Clock& clock;
  device::Randomness& randomness;
  sync::Network& network;
  store::Disk* disk;
  Identity identity;
  std::optional<device::SecretKey> key;  // nothing where it is opened for reading
  std::unique_ptr<store::Store> store;
  std::unique_ptr<Ledger> ledger;
  std::optional<registry::Layer> overlay;  // none before what waits is folded
  std::vector<Undelivered> undelivered;
  std::vector<facts::SignedCommit> aside;  // of others, kept until they state them again
  facts::ChainHead head;                   // of the own chain, undelivered commits included
  std::vector<OwnPlace> restated;          // commits that state others again, until they are told
  std::optional<OwnPlace> noted;           // as NoteLast wrote it
  std::optional<Doubt> accusation;  // what the server's heads of the last session accuse it of
  // What was final of a log that is gone, until it has arrived again.
  std::map<Hash, registry::Verdict> verdicts_before;
  // What was first said of own undelivered commits, by the hash that they were first written with.
  std::map<Hash, registry::Verdict> verdicts_told;

  facts::ChainId chain() const { return {DeviceOf(identity.device_key), identity.incarnation}; }

  // With its database open, and nothing of what waits read yet. Errors: those of Replica::Open.
  static absl::StatusOr<std::unique_ptr<Rep>> Open(const Home& home, store::Access access,
                                                   const Surroundings& surroundings);

  // The state with what is undelivered on top of it, as FoldWaiting laid it.
  const registry::Layer& Laid() const {
    BP_CHECK(overlay.has_value());
    return *overlay;
  }

  // Whether this replica may write.
  // Errors: FAILED_PRECONDITION with reason READ_ONLY.
  absl::Status CheckWritable() const;

  // The key of this device. Only where the replica is open for writing.
  const device::SecretKey& OwnKey() const {
    BP_CHECK(key.has_value());
    return *key;
  }

  // A commit that follows on the own chain, as read back from its bytes. One that carries another
  // (facts::Restatement, facts::Adoption) and nothing else may be as long as any commit.
  // Errors: COMMIT_TOO_LONG; those of ParseCommit.
  struct Draft {
    std::string bytes;
    facts::Commit commit;
  };
  absl::StatusOr<Draft> DraftOf(const Hash& cooperative,
                                const std::vector<facts::Statement>& statements) const;

  // What the fold makes of a commit on top of what is there, and the changes that it would bring.
  struct Trial {
    registry::Verdict verdict;
    std::vector<registry::Change> changes;
  };
  absl::StatusOr<Trial> FoldOnTop(const facts::Commit& commit) const;

  // Signs a draft, stores it as undelivered, and lays its changes.
  absl::StatusOr<Acted> Keep(const Draft& draft, Trial trial);

  // Reads the undelivered commits and folds them anew on top of the final state.
  // replica_pending.cc, as the next ones
  absl::Status Refold();
  // Reads them in the order in which they are folded, each device's in its own, and those of
  // several by clock, then hash: two replicas with the same log and the same undelivered commits
  // come to the same. What is not among `verdicts` is taken to count.
  absl::Status ReadWaiting(const std::map<Hash, registry::Verdict>& verdicts);
  // Folds them, as they have been read.
  absl::Status FoldWaiting();
  // Lets commits wait in place of others, and folds all that wait.
  absl::Status ReplaceWaiting(const std::vector<store::PendingCommit>& gone,
                              const std::vector<store::PendingCommit>& again);

  // Begins a new life of the device where this replica may not be the only one to write its chain,
  // and mends what it finds forked. replica_fork.cc, as all below.
  absl::Status CheckLife();

  // Begins a new life: an incarnation that no commit known here has, and a new install number.
  absl::Status BeginLife();

  // States again, in the present life, own undelivered commits whose places the log gave to
  // others; begins a new life first where it is the present one's. Adds to `restated`.
  absl::Status MendForks();

  // States again own undelivered commits that have seen more arrivals than the log has, or others,
  // and what follows on them: what they saw was lost, and whoever could say so has not. The server
  // takes them no other way.
  absl::Status MendSeen();

  // Keeps in `verdicts_told` what is said of the undelivered commits now, where nothing was before.
  void NoteVerdicts();

  // How many of `restated` have arrived and do not count.
  absl::StatusOr<std::uint64_t> RestatedInVain() const;

  // States those own commits again, in the present life. What was said of them is held against
  // what becomes of them there.
  absl::Status StateAnew(const std::vector<store::PendingCommit>& gone);

  // States again own commits that somebody kept, and whose places the log gave to others; those
  // that have been stated again are left out. Returns how many.
  absl::StatusOr<std::uint64_t> StateLost(const std::vector<facts::SignedCommit>& lost);

  // The next own commit, which is that restatement or adoption; nothing is stored yet.
  absl::StatusOr<store::PendingCommit> StateAgain(const facts::Statement& again);

  // The commits that own ones, arrived or not, state again or adopt.
  absl::StatusOr<std::set<Hash>> StatedAgain() const;

  OwnPlace PlaceOfNewest() const;

  // Writes down the newest own commit beside the database.
  absl::Status NoteLast();

  // Whether this folder is not one whose database was lost while the rest of it was kept.
  // Errors: DATA_LOSS with reason REPLICA_MISSING.
  absl::Status CheckNotLost() const;

  // Whether Join is left to this replica: it has no server, or is none's member by the log, as
  // after a loss of the server's where somebody else spent its invitation; or its server, which the
  // code names, does not know it; or it has nothing of the log, and the code names another server.
  // Errors: FAILED_PRECONDITION with reason ALREADY_MEMBER.
  absl::Status CheckMayJoin(const sync::InviteCode& code) const;
  // Without a log, what a server signed before holds the one that an invitation leads to to
  // nothing.
  absl::Status ForgetServerOfNothing();

  // Enter by the server's leave, as said at Join; set the certificate of `credentials`, and its
  // key, and write them down.
  absl::Status ClaimServer(const std::string& secret, sync::Credentials& credentials);
  absl::Status JoinCooperative(const sync::InviteCode& code, const Signer& invite,
                               sync::Credentials& credentials);

  // The statement by which this device enters by a code.
  facts::Statement JoiningBy(const sync::InviteCode& code, const Signer& invite) const;

  // A code for an invitation that `statement_for` states for its key.
  absl::StatusOr<std::string> InviteBy(
      Replica& replica, const sync::InviteCode& code,
      const std::function<facts::Statement(const PublicKey&)>& statement_for);

  // Writes down whose device this is, as the registry says. replica_device.cc, as all below.
  absl::Status KnowSelf();
  // Keeps the server's refusal of this device, or that it has none; other errors change nothing.
  absl::Status KeepRefusal(const absl::Status& status);
  absl::Status CheckNotRefused() const;
  // Where the server refuses somebody who left: says where a code lets him in again.
  absl::Status WithWayBack(const absl::Status& status) const;
  // With the arrival of a keeper's leaving the server ends the stream that brought it. How many own
  // commits that was, where `status` is that end; 0 where it is not, or was heard of before.
  absl::StatusOr<std::uint64_t> CommitsUpToLeaving(const absl::Status& status) const;
  // Delivers all, then states that the next key takes this one's place, and delivers that.
  absl::Status StateRotation(Replica& replica, const device::SecretKey& next,
                             const sync::Options& options);
  // Goes on as the device of the next key.
  absl::Status TakeNextKey(device::SecretKey next);

  // One session for one own chain, and what the server has lost is mended first; enters again where
  // it does not know this device any more. Adds to what was synced.
  absl::Status SyncChain(const ChainTask& task, const sync::Options& options, Synced& synced);
  // The same, for a server that knows this device or is reminded of it by what it takes back.
  absl::Status RepairedSession(sync::Credentials& credentials, const ChainTask& task,
                               const sync::Options& options, Synced& synced);
  // One session as it comes; renews `credentials` where they are stale. Sets `accusation`.
  absl::Status TrySession(sync::Credentials& credentials, const ChainTask& task,
                          const sync::Options& options, Synced& synced);
  // Asks the server which losses it tells of by now, and keeps the doubts that they do not explain
  // in the database that they came with. Errors: the first of those; those of the store.
  absl::Status Weigh(const std::vector<Doubt>& doubts, const sync::Credentials& credentials,
                     store::Store& database);
  // Keeps what convicts the server that `status` tells of, and returns the error to end with.
  absl::Status Accuse(const sync::Credentials& credentials, const absl::Status& status);

  // The server's side of mending losses. Errors: those of sync::OpenRecovery. replica_loss.cc
  absl::StatusOr<std::unique_ptr<sync::Recovery>> OpenRecovery(
      const sync::Credentials& credentials) const;
  // After a session that found the server's log to be another one: mends what the server has lost,
  // if it says that it has, and this replica with it. replica_loss.cc
  // Errors: the doubt that is kept, if it does not; those of LossRepair.
  absl::Status Recover(const sync::Credentials& credentials, Synced& synced);
  // Enters anew by the commit that this device once entered by, and brings the invitation: a server
  // that took over may not have heard of either yet. Returns the certificate. Errors: those of
  // sync::JoinAgain. replica_server.cc, as the next two
  absl::StatusOr<std::string> JoinAgain(const sync::Credentials& credentials,
                                        const PublicKey& tls_key);
  // The bytes of the commit that this device once entered by, arrived or not.
  absl::StatusOr<std::optional<std::string>> FirstCommit() const;
  // Makes a server that took over the one of this replica although it does not let it in yet:
  // what is to be done, as the error to end with.
  absl::Status AwaitEntrance(const sync::Credentials& credentials, const PublicKey& server_key);
  // As JoinAgain, where the server calls this device `unknown` because it has lost its entry; sets
  // the certificate and its key. Errors: `unknown`, or better words for it. replica_sync.cc
  absl::Status EnterAgain(sync::Credentials& credentials, const absl::Status& unknown);
  // Tells a server that took over which one this replica comes from, by its newest head: members
  // who were there too are believed then. replica_server.cc, as the next one
  void ShowLeft(const sync::Head& left, const sync::Credentials& credentials);
  // Makes a server that took over the one of this replica, and syncs.
  absl::StatusOr<Synced> GoOver(Replica& replica, const sync::Credentials& credentials,
                                const PublicKey& server_key);

  // Takes the log back to `place`, of which the server has signed `head_there`; own commits after
  // it are undelivered again, and what the server refused of others is kept for them.
  absl::Status RewindTo(const facts::LogPoint& place, const std::optional<sync::Head>& head_there,
                        const std::vector<store::PendingCommit>& refused);

  // Why a server calls this log no beginning of its own: asks it for its head, keeps what convicts
  // it, and returns the error to end with. `refusal` is the server's.
  absl::Status Examine(const sync::Credentials& credentials, const absl::Status& refusal);

  // Begins the empty replica from the server's newest snapshot, if it has one that may be trusted;
  // tells by `options` what came of it. Nothing of it stands in the way of the ordinary first sync.
  // Errors: those of the store, once it has begun. replica_history.cc, as all below
  absl::Status StartFromSnapshot(const sync::Credentials& credentials, const JoinOptions& options);
  // Holds the state that this replica has folded against the server's snapshot of the same place,
  // once, and attests it or keeps what does not fit. What stands in the way now is tried again at
  // the next sync. Returns what does not fit.
  absl::StatusOr<std::optional<std::string>> AttestSnapshot();
  // The store that the history is fetched into.
  absl::StatusOr<std::unique_ptr<store::Store>> OpenHistory() const;
  // The whole history, in that store. What the server has lost meanwhile it is asked about first,
  // and the history fetched once more.
  // Errors: as FillHistory; what the server is convicted of is kept.
  absl::StatusOr<std::unique_ptr<store::Store>> FetchRepaired(const sync::Options& options);
  // One session for it: goes on where the one before was cut off. Sets `accusation`, and keeps
  // nothing of it.
  absl::Status FetchHistory(store::Store& history, const sync::Options& options);
  // What a session for the history accuses the server of, it may have lost: a session for the log
  // that is here asks it and gives back, as a sync does. OK: the history may be fetched once more.
  // Errors: those of SyncChain; what the server is convicted of is kept.
  absl::Status AskAboutLoss(const sync::Options& options);
  // What the history says of the snapshot that this replica started from, if it does not fit.
  struct Judgement {
    bool compared = false;               // the history gave a root at that place, and it is known
    std::optional<std::string> fault{};  // it is another one
  };
  absl::StatusOr<Judgement> JudgeOrigin(const store::Store& history) const;
  // What waits to be delivered, and would be missing in `history`.
  absl::StatusOr<std::vector<store::PendingCommit>> WaitingBeside(
      const store::Store& history) const;
  // Moves what only this replica has over to the history, and puts that in its place.
  absl::Status TakeHistory(std::unique_ptr<store::Store> history);

  // Of a bundle, before anything of it is carried: keeps what convicts the server, and the log that
  // it may have lost. bundle.cc, as the next ones
  absl::Status KeepFindings(std::istream& in, const BundleSurvey& survey);
  // Takes what is new of its log, and its mail.
  absl::StatusOr<BundleReport> TakeBundle(std::istream& in, const BundleSurvey& survey);
  // What this replica has, for a bundle.
  absl::StatusOr<sync::BundleFrontier> Frontier() const;
  // Writes the log up to arrival `last`, but for what somebody has.
  absl::Status WriteLog(sync::BundleWriter& writer,
                        const std::optional<sync::BundleFrontier>& since, std::uint64_t last,
                        BundleReport& report) const;

  // The key of a member's device; nothing if it is none's. As known here, provisional or not.
  absl::StatusOr<std::optional<PublicKey>> KeyOf(const DeviceId& device) const;

  // A session for every chain that has something undelivered, carried ones first and the present
  // own one last. What cannot be delivered for somebody else stays, and stops nothing.
  absl::Status SyncAll(const sync::Options& options, Synced& synced);

  // A session for the present life's chain, and more of them while something has come to it since.
  absl::Status SyncPresentLife(const sync::Options& options, Synced& synced);

  // Delivers what waits, own and carried, in the order in which it is folded here; before that
  // shows the server the logs that it lost, as bundles tell of them. What the server does not take
  // is left to the session of its chain, which says why. False if a lost log has to wait: what is
  // carried waits with it. replica_pending.cc
  // Errors: those of ShowLostLogs and OpenRecovery.
  absl::StatusOr<bool> DeliverInOrder(Synced& synced);
};

// SHA-256 of the certificate behind a PEM text, in DER. replica_join.cc
// Errors: DATA_LOSS with reason HOME_DAMAGED.
absl::StatusOr<Hash> FingerprintOf(const std::string& pem);

// Takes up a rotation that was cut off between the identity and the key. replica_device.cc
absl::Status FinishRotation(const Home& home, const PublicKey& device_key);

}  // namespace broodpact::replica
