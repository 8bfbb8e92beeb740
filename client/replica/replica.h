#pragma once

// A keeper's replica: what every program of a keeper talks to. Reads and writes work with no
// network; Join and Sync need the server.
//
// Not thread-safe.

#include <functional>
#include <iosfwd>
#include <memory>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/device/clock.h"
#include "client/device/key.h"
#include "client/device/random.h"
#include "client/facts/commit.h"
#include "client/registry/layer.h"
#include "client/registry/verdict.h"
#include "client/replica/home.h"
#include "client/replica/ledger.h"
#include "client/store/store.h"
#include "client/sync/bundle.h"
#include "client/sync/network.h"
#include "client/sync/session.h"

namespace broodpact::replica {

// What the world outside gives a replica.
struct Surroundings {
  const device::Clock& clock;
  device::Randomness& randomness;
  sync::Network& network = sync::GrpcNetwork();
  store::Disk* disk = nullptr;  // that databases are kept on; nothing: the machine's
};

// What became of an act on this replica.
struct Acted {
  Hash commit{};
  registry::Verdict verdict{};    // provisional
  std::uint64_t undelivered = 0;  // commits that have not arrived, this one included
};

// A commit whose verdict changed when it arrived: an own or carried one, which was provisional, or
// anybody's that had arrived before the server lost it.
struct ChangedVerdict {
  std::uint64_t arrival = 0;
  registry::Verdict before{};
  registry::Verdict after{};
};

// What convicts the server of telling two histories, or of losing what it had acknowledged: two
// heads that cannot be of one log.
struct Doubt {
  std::string reason{};   // LOG_FORKED or LOG_SHRUNK
  std::string message{};  // one sentence, with what to do
  sync::Head ours{};      // of the log that this replica holds; none (0 arrivals) where a commit
  sync::Head theirs{};    // says that it has seen another log, of which `theirs` is the place

  friend bool operator==(const Doubt&, const Doubt&) = default;
};

// What this replica did about a loss of the server's: one that was restored from an old backup.
struct Repair {
  std::uint64_t given_back = 0;       // arrivals, at the places that they had
  std::uint64_t delivered_again = 0;  // commits that arrived anew, at other places
  std::uint64_t refused = 0;          // commits of others that the server does not take any more
  std::optional<std::uint64_t> rewound_to{};  // from here on the log goes on otherwise
  bool new_server = false;                    // it took the place of another one

  // What was done later.
  void Add(const Repair& more);

  friend bool operator==(const Repair&, const Repair&) = default;
};

// What a replica still has to fetch and to check: it started from a snapshot.
struct MissingHistory {
  facts::LogPoint base{};                  // the place that it started at
  std::uint64_t checked = 0;               // arrivals that have been fetched, checked and folded
  std::vector<std::string> attested_by{};  // keepers whose devices attest the state there
};

// What became of it.
struct FilledHistory {
  std::uint64_t arrivals = 0;          // of the whole log, which this replica has now
  bool compared = false;               // the state at the snapshot's place was held against it
  std::optional<std::string> fault{};  // the snapshot was of another state: what and whose word
};

// How to enter.
enum class FirstSync {
  kSnapshot,  // from a snapshot, if the server has one that enough members' devices attest
  kWhole,     // fetch and fold the whole log before anything else
};
struct JoinOptions {
  FirstSync first = FirstSync::kSnapshot;
  // Told what a keeper has to know of the snapshot; may be empty.
  std::function<void(const std::string& note)> tell{};
  // How many parts of the snapshot have come, of how many; may be empty.
  std::function<void(std::uint64_t parts, std::uint64_t all)> on_part{};
};

struct Synced {
  sync::Progress progress{};
  facts::LogPoint point{};
  std::vector<ChangedVerdict> changed{};
  // Own commits that another copy of this device had taken the places of, stated again since this
  // replica was opened.
  std::uint64_t restated = 0;
  std::uint64_t restated_in_vain = 0;  // of those, the ones that do not count
  // The server had lost something: what this sync did about it.
  std::optional<Repair> repair{};
  // What was delivered ended the keeper's membership: what the server says of it, and how he comes
  // back. Nothing came in any more.
  std::optional<std::string> left{};
  // The server's snapshot is of another state than the log gives here: what that means.
  std::optional<std::string> snapshot_fault{};
};

struct Verified {
  std::uint64_t commits = 0;
  std::uint64_t subjects = 0;
  Hash state_digest{};
  facts::LogPoint point{};
  std::vector<std::string> faults{};  // empty: all is well
};

// Why nothing of the log that a bundle has was taken, though there may be something new in it.
enum class PassedOver {
  kNothing,      // it was taken, as far as it is new
  kOtherServer,  // a server signed it that is not the one of this replica
  kAfterLoss,    // it is another log since the server lost a part of this one
  kLost,         // the server has lost it; what is missing here of it is carried
  kBeginsLater,  // it begins after more arrivals than there are here
};

// What a bundle holds, and what became of it here.
struct BundleReport {
  sync::BundleHeader header{};
  std::uint64_t arrivals_first = 0;  // of its part of the log; 0: it has none
  std::uint64_t arrivals_last = 0;
  std::uint64_t heads = 0;           // signed by a server
  std::uint64_t mail = 0;            // commits that were not delivered when it was written
  std::uint64_t arrivals_taken = 0;  // new here
  PassedOver passed_over = PassedOver::kNothing;
  std::uint64_t mail_taken = 0;     // carried from now on
  std::uint64_t mail_known = 0;     // had here before
  std::uint64_t mail_early = 0;     // comes after something that is missing here
  std::uint64_t mail_forked = 0;    // another commit of its device stands at its place
  std::uint64_t mail_restated = 0;  // own, whose places the log gave to others: stated again
  std::uint64_t mail_refused = 0;   // of no member, of another cooperative, or badly signed
};

// What became of the late work of a device that was cut off.
struct AdoptReport {
  std::uint64_t adopted = 0;
  std::uint64_t known = 0;             // had been adopted, or stated again, before
  std::vector<std::string> refused{};  // a sentence each; they are carried on
};

// Whether there is a cooperative to state something in: its id, zeros where there is none.
// Errors: FAILED_PRECONDITION with reason NO_COOPERATIVE.
absl::Status CheckFounded(const Hash& cooperative);

class Replica {
 public:
  // Makes a keeper and a device in `home`. Works with no server and no cooperative.
  // Errors: ALREADY_EXISTS with reason ALREADY_STARTED; those of CheckName; FILE_WRITE, DISK_FULL;
  // INVALID_ARGUMENT with reason REGION_SYNTAX.
  static absl::Status Start(const Home& home, const std::string& keeper_name,
                            const std::string& region, const Surroundings& surroundings);

  // Opens the replica in `home`.
  // kReadOnly needs neither the device's secret nor the write lock: Act, Found, Invite, Join, Sync
  // and Rebuild then fail with FAILED_PRECONDITION and reason READ_ONLY.
  //
  // A number that stands in the database and beside it tells whether one of the two was copied, and
  // the place of the newest own commit, which does too, whether the database was restored: where
  // they do not fit, kReadWrite begins a new incarnation of the device. Own undelivered commits
  // whose places other commits have are stated again in a new one.
  // Errors: those of Home, SecretKey::Load and Store::Open; DATA_LOSS with reason REPLICA_MISSING
  // where the keeper has lost its database, or STORE_DAMAGED where a rebuild was cut off
  // (kReadWrite takes it up again); of kReadOnly, UNAVAILABLE with reason REPLICA_BUSY beside a
  // writer that folds the log again.
  static absl::StatusOr<std::unique_ptr<Replica>> Open(const Home& home, store::Access access,
                                                       const Surroundings& surroundings);
  // The same for Sync, which needs nothing of what waits folded: as kReadWrite, but before Sync, or
  // FoldWaiting, has returned, nothing else is to be called but what tells of identity, store and
  // what waits. A state that cannot be read is found by Sync, after it has delivered.
  static absl::StatusOr<std::unique_ptr<Replica>> OpenToSync(const Home& home,
                                                             const Surroundings& surroundings);
  ~Replica();

  // Folds what waits, where that has not been done. Errors: those of the store.
  absl::Status FoldWaiting();

  // Who and where.
  const Identity& identity() const;
  const Home& home() const;
  const device::Clock& clock() const;
  device::Randomness& randomness() const;
  const PublicKey& device_key() const;
  // Zeros before found or join.
  Hash cooperative() const;

  // The registry as this replica sees it: final state with own undelivered commits on top. The
  // reference stays good, and follows what this replica does.
  const registry::Layer& view() const;
  const store::Store& store() const;

  // States something: builds one commit, signs it, folds it provisionally and stores it. A verdict
  // other than counted is an error, and nothing is stored then.
  // Errors: FAILED_PRECONDITION with reason NO_COOPERATIVE; those of Refusal; PERMISSION_DENIED,
  // ABORTED, FAILED_PRECONDITION or INVALID_ARGUMENT with the reason and message of the verdict;
  // those of ParseCommit; those of the store.
  absl::StatusOr<Acted> Act(const std::vector<facts::Statement>& statements);

  // What Act would say, without doing it.
  absl::StatusOr<Acted> Try(const std::vector<facts::Statement>& statements);

  // Founds a cooperative with this keeper as its first registrar.
  // Errors: FAILED_PRECONDITION with reason ALREADY_MEMBER; those of CheckName.
  absl::StatusOr<Acted> Found(const std::string& cooperative_name);

  // Writes an invitation and returns its code.
  // Errors: FAILED_PRECONDITION with reason NO_SERVER (it needs the server's address); those of
  // Act.
  absl::StatusOr<std::string> Invite(facts::Role role, const std::string& keeper_name);

  // Writes an invitation for a further device of a keeper and returns its code: of this replica's
  // keeper, or, by a registrar, of one who has no device left.
  // Errors: as Invite; NOT_FOUND with reason UNKNOWN_SUBJECT.
  absl::StatusOr<std::string> InviteDevice(const KeeperId& keeper, const std::string& label);

  // Puts a fresh key in the place of this device's: delivers all, states it, and goes on as the
  // device of the new key. Cut off anywhere, it is taken up again by the next call.
  // Errors: those of Act and Sync; those of files.
  absl::Status RotateKey();

  // Adopts what is carried of a device that was cut off, a commit each; adopted ones are not
  // carried on. Errors: those of the store; what the fold refuses is in the report.
  absl::StatusOr<AdoptReport> Adopt(const DeviceId& device);

  // OK; or why the server refuses this device, as it said at the last sync, and what to do.
  // Act says so too. Errors: PERMISSION_DENIED with reason DEVICE_REVOKED, DEVICE_REPLACED or
  // DEVICE_LEFT.
  absl::Status Refusal() const;

  // Enters by a code: joins a cooperative, as a newcomer or as a further device of a keeper (whose
  // id and name this home then has), or claims a fresh server for the one founded here; then
  // syncs. After an error before the server's yes, nothing is changed; the same code works again,
  // also where the answer was lost.
  // A replica that has a server and is no member by its log enters anew, in a new life: the server
  // lost its entry, and somebody else used the invitation then. So does one whose server does not
  // know it, where the code is of that server: its old invitation has no place there any more.
  // Errors: INVITE_CODE; ALREADY_MEMBER; DATA_LOSS with reason REPLICA_MISSING (the database was
  // lost and the rest of the folder kept; as Found, Sync and TakeOverServer say too);
  // FAILED_PRECONDITION with reason NO_COOPERATIVE (a code that claims a server, and nothing
  // founded here); those of sync::FetchAuthority, Claim and Join; those of Sync, annotated: the
  // entry itself then stands.
  absl::Status Join(const std::string& code, const JoinOptions& options = {});

  // Gives a fresh server, whose claim code this is, to the cooperative in place of the server that
  // is gone, and gives it the log. By a device of a registrar.
  // Errors: INVITE_CODE; INVALID_ARGUMENT with reason CODE_KIND (not the code of a fresh server);
  // FAILED_PRECONDITION with reason NO_COOPERATIVE or NO_HEAD (this replica has never synced);
  // PERMISSION_DENIED with reason NOT_REGISTRAR; those of sync::FetchAuthority, TakeOver and Sync.
  absl::StatusOr<Synced> TakeOverServer(const std::string& claim_code);

  // The code by which other members come to this replica's server, named by this device. By one of
  // a registrar. Errors: NO_SERVER; NOT_REGISTRAR; NO_HEAD.
  absl::StatusOr<std::string> NameServer() const;

  // Goes over to the server that the code names, and syncs. One that does not know this device yet
  // lets it in by its joining and the invitation, which it is shown. Where they cannot count there,
  // this replica has the new server all the same: UNAUTHENTICATED with reason DEVICE_UNKNOWN, and
  // Join with a new invitation enters.
  // Errors: INVALID_ARGUMENT with reason SERVER_CODE; FAILED_PRECONDITION with reason SERVER_OLDER
  // (a server that this replica has left); PERMISSION_DENIED with reason COOPERATIVE_OTHER or
  // NOT_REGISTRAR (named by no registrar that is known here); those of sync::FetchAuthority, Renew
  // and Sync.
  absl::StatusOr<Synced> MoveToServer(const std::string& code);

  // The codes by which this replica was led to servers, the latest last.
  absl::StatusOr<std::vector<std::string>> ServerCodes() const;

  // Tells the server that the one which the code names was of this cooperative too: who comes from
  // there is believed then. For one that is gone, and was named by a registrar whose word does not
  // count any more. By a device of a registrar.
  // Errors: SERVER_CODE; NO_HEAD (there is no server); NOT_REGISTRAR; PERMISSION_DENIED with reason
  // COOPERATIVE_OTHER, or CODE_UNSIGNED (named by no device that is known here); those of
  // sync::Recovery.
  absl::Status VouchForServer(const std::string& code);

  // Exchanges commits with the server. A certificate that has run out is renewed first. Commits of
  // an earlier incarnation go before those of the present one. Where another copy of this device
  // has delivered before (a copied folder, a restored backup), a new incarnation states again what
  // lost its place.
  // Every head that the server signs is held against the log, and so is what other devices say they
  // have seen of it.
  // Errors: FAILED_PRECONDITION with reason NO_SERVER; PERMISSION_DENIED with reason SERVER_OTHER
  // (heads signed by another key than before); DATA_LOSS with reason LOG_FORKED (the server tells
  // two histories) or LOG_SHRUNK (it has lost what it acknowledged): Doubts() has the evidence;
  // those of sync::RunSession.
  absl::StatusOr<Synced> Sync(const sync::Options& options);

  // What was done about losses of the server's since ForgetRepair, in whatever call, and also if
  // the program was killed meanwhile: to be told to the keeper.
  absl::StatusOr<std::optional<Repair>> UntoldRepair() const;
  absl::Status ForgetRepair();

  // What is missing of the history; nothing where the log is whole. Until FillHistory has fetched
  // it, Verify, Rebuild, ReadBundle and whatever reads early arrivals fail with FAILED_PRECONDITION
  // and reason HISTORY_MISSING.
  absl::StatusOr<std::optional<MissingHistory>> History() const;

  // Fetches the history that a start from a snapshot left out, checks and folds it, holds the state
  // against the one that was assumed, and puts the whole log in the place of this one; own commits
  // that wait stay. Cut off anywhere, the next call goes on. Does nothing where the log is whole.
  // Errors: those of Sync; UNAVAILABLE with reason REPLICA_BUSY (another process came in between);
  // after an error that names a folder or the disk, this replica is to be opened again.
  absl::StatusOr<FilledHistory> FillHistory(const sync::Options& options);

  // Where a snapshot did not fit, a sentence each. They stay.
  absl::StatusOr<std::vector<std::string>> SnapshotFaults() const;

  // The last head that the server signed for this log; nothing before the first sync.
  absl::StatusOr<std::optional<sync::Head>> LastHead() const;

  // What convicts the server; empty where all is well. It stays, as evidence.
  absl::StatusOr<std::vector<Doubt>> Doubts() const;

  // Writes a bundle: the log that the server has signed, the last head, and all that has not
  // arrived, own and carried. `since` leaves out what somebody has: the frontier of a bundle of
  // his. Errors: NO_COOPERATIVE; those of the store. Whether `out` took it all is for the caller to
  // ask.
  absl::StatusOr<BundleReport> WriteBundle(std::ostream& out,
                                           const std::optional<sync::BundleFrontier>& since) const;

  // Reads a bundle, which is read twice: `in` can be rewound. The part of the log that a head of
  // the known server vouches for is final here as it is there; undelivered commits of others are
  // carried, provisional, and delivered for their authors by the next sync. Reading again changes
  // nothing.
  // Errors: NO_COOPERATIVE, COOPERATIVE_OTHER; those of BundleReader, with what is before the fault
  // taken; RESOURCE_EXHAUSTED with reason MAIL_FULL; LOG_FORKED, as in Sync; those of the store.
  absl::StatusOr<BundleReport> ReadBundle(std::istream& in);

  // Commits that have not arrived, own ones and those that are carried for others, each with its
  // provisional verdict, of the last fold, in the order in which they are folded.
  struct Undelivered {
    facts::Commit commit;
    registry::Verdict verdict;
    facts::SignedCommit signed_commit;
  };
  const std::vector<Undelivered>& undelivered() const;
  // How many of them are carried for others.
  std::uint64_t carried() const;
  // Commits of others that cannot arrive as they are: their device has given their places to
  // others since, or is no member's any more. Kept, and in every bundle, until their author, who
  // gets them by one, states them again.
  std::uint64_t aside() const;

  // Recomputes everything from the commits, and reports what differs. Holds the whole state in
  // memory meanwhile.
  // Errors: those of Store::CheckHistory; FAILED_PRECONDITION with reason FOLD_OTHER (the state was
  // made by another version's rules; opening for writing makes it anew).
  absl::StatusOr<Verified> Verify();

  // Restores state and indexes from the commits alone.
  absl::StatusOr<Verified> Rebuild();

 private:
  struct Rep;  // internal/rep.h
  explicit Replica(std::unique_ptr<Rep> rep);
  // Sync, which may leave what waits unfolded.
  absl::StatusOr<Synced> SyncWaiting(const sync::Options& options);
  std::unique_ptr<Rep> rep_;
};

}  // namespace broodpact::replica
