#pragma once

// The replica on disk: the arrival log, its fold, its indexes and its cursor, in RocksDB.
//
// Whatever belongs together is one atomic batch: a range of arrivals with its verdicts, the
// subjects and index entries that it changed, the chain heads and the place in the log. After a
// crash all of it is there, or none. FORMAT.md has the keys and values.
//
// One process writes; others may read beside it. Thread-safe, except that Append and the other
// writes are called by one thread at a time.

#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/merkle.h"
#include "client/facts/arrival.h"
#include "client/facts/chain.h"
#include "client/facts/range.h"
#include "client/registry/state.h"
#include "client/registry/verdict.h"
#include "client/store/pinned.h"

namespace rocksdb {
class Env;
}  // namespace rocksdb

namespace broodpact::store {

// What the files of a database are on. Tests lay one of their own under it, which crashes.
using Disk = rocksdb::Env;

// The format that this program writes. A replica with a higher one is refused.
inline constexpr std::uint32_t kFormat = 1;

// The small value that holds the cooperative's id, from InitLog on.
inline constexpr std::string_view kCooperativeName = "cooperative";

enum class Access { kReadWrite, kReadOnly };

// When an Append returns.
enum class Durability {
  kSynced,   // it survives a power loss
  kWritten,  // it survives a crash of the process; the next kSynced write makes it durable
};

// What one batch brings.
struct Batch {
  const facts::Range& range;                           // may be empty
  std::vector<registry::Verdict> verdicts{};           // one an arrival
  std::vector<registry::Change> changes{};             // what the fold changed
  std::map<facts::ChainId, facts::ChainHead> heads{};  // of the chains in the range
  std::map<std::string, std::string> meta{};           // meta values to set
  std::vector<facts::ChainId> delivered{};             // chains whose pending commits go away
                                                       // where the range brings the same ones
  Durability durability = Durability::kSynced;
};

// An arrival as it is stored.
struct StoredArrival {
  std::string bytes{};
  std::int64_t time_ms = 0;
  std::optional<std::int64_t> first_time_ms{};
  std::optional<Signature> signature{};
  registry::Verdict verdict{};
};

// An own commit that has not arrived.
struct PendingCommit {
  facts::ChainId chain{};
  std::uint64_t seq = 0;
  facts::SignedCommit commit{};
};

// Records of the log as they are stored, ready to be sent.
struct LogSlice {
  std::string records{};    // framing of facts/arrival.h
  std::uint64_t count = 0;  // how many; 0: there are no more
};

// Where a log begins whose earlier arrivals are not here: at a place that is the end of a run.
struct Beginning {
  facts::LogPoint point{};
  MerkleFrontier tree{};                               // over the arrivals up to there
  std::map<facts::ChainId, facts::ChainHead> heads{};  // of all chains
  std::map<std::string, std::string> meta{};           // meta values to set
};

// What is written together with a rewinding.
struct BesideRewind {
  std::vector<PendingCommit> pending{};       // to be added
  std::map<std::string, std::string> meta{};  // meta values to set
};

// Subjects as they are stored.
using StoredSubjects = std::vector<std::pair<registry::SubjectKey, std::string>>;

class Store final : public registry::Source {
 public:
  // Opens the replica in `folder`; kReadWrite creates it where there is none. `disk`, if any,
  // outlives the store; without one it is the machine's.
  //
  // Errors: NOT_FOUND with reason REPLICA_MISSING (kReadOnly); UNAVAILABLE with reason
  // REPLICA_BUSY (another process writes to it; the message names it), or REPLICA_BEGINNING
  // (kReadOnly: another process is beginning it from a snapshot);
  // FAILED_PRECONDITION with reason REPLICA_NEWER; DATA_LOSS with reason STORE_DAMAGED, or
  // LOG_SHORTER (the log ends before a place that was on disk: see FORMAT.md);
  // RESOURCE_EXHAUSTED with reason DISK_FULL; UNAVAILABLE with reason STORE_READ or STORE_WRITE.
  static absl::StatusOr<std::unique_ptr<Store>> Open(const std::filesystem::path& folder,
                                                     Access access, Disk* disk = nullptr);
  ~Store() override;

  // The end of the log. Zeros before the first arrival or InitLog.
  facts::LogPoint point() const;

  // Arrivals whose fold is stored: point().arrivals, but for a rebuild that is under way or was
  // broken off.
  std::uint64_t folded() const;

  // The rules by which it was made (registry::kFoldVersion then).
  std::uint64_t fold_version() const;

  // Sets H[0], the cooperative's id, and the small value kCooperativeName to its 32 bytes. Once,
  // before the first arrival.
  absl::Status InitLog(const Hash& cooperative);

  // Begins an empty log, whose cooperative is known, in the middle: with the state that `next`
  // hands out part by part, in any order, until an empty one ends it; `beginning` is read after
  // that. All or nothing, and durably: where `next` returns an error, or the process ends before,
  // the log is empty as before.
  // Errors: those of `next`; DATA_LOSS with reason STATE_FORM (a subject that is none); those of
  // writing.
  using NextSubjects = std::function<absl::StatusOr<StoredSubjects>()>;
  absl::Status BeginAt(const Beginning& beginning, const NextSubjects& next);

  // The place that the log begins after: what arrived up to there is not here, but for what the
  // state says. Zeros: the log is whole. Whatever reads arrivals, places of chains, log hashes or
  // roots before it, or would fold them again, fails as CheckHistory does.
  facts::LogPoint base() const;

  // Errors: FAILED_PRECONDITION with reason HISTORY_MISSING if the log is not whole.
  absl::Status CheckHistory() const;

  // Appends a batch. `batch.range.before` is point(), or the range is empty.
  // Errors: ABORTED with reason LOG_MOVED; FAILED_PRECONDITION with reason FOLD_UNFINISHED (a
  // rebuild was broken off: it has to end first); RESOURCE_EXHAUSTED with reason DISK_FULL;
  // DATA_LOSS with reason STORE_DAMAGED; UNAVAILABLE with reason STORE_WRITE. Nothing of the batch
  // is then stored. After a write that failed reading goes on, and this store refuses every further
  // write with the same error: once the cause is gone, the replica is to be opened again.
  absl::Status Append(const Batch& batch);

  // Records from after `arrivals_before` on, none beyond the end of the log: at most `bytes_max`
  // bytes, but at least one block (64 records or 16 KiB, or one larger record), and whole runs:
  // every run in it is vouched for by a signature in it, and so is the last record.
  absl::StatusOr<LogSlice> ReadLog(std::uint64_t arrivals_before, std::size_t bytes_max) const;

  // One arrival, counted from 1.
  // Errors: NOT_FOUND with reason ARRIVAL_MISSING; HISTORY_MISSING; those of reading.
  absl::StatusOr<StoredArrival> ReadArrival(std::uint64_t arrival) const;

  // Calls `visit` for arrivals first .. last in order, until it returns an error or all are done.
  // Arrivals beyond folded() have a default verdict. Errors: as above, before the first call.
  using Visit = std::function<absl::Status(std::uint64_t arrival, const StoredArrival&)>;
  absl::Status VisitArrivals(std::uint64_t first, std::uint64_t last, const Visit& visit) const;

  // Chains.
  absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const;
  // The arrival number of a commit by its place in its chain; nothing if it has not arrived.
  absl::StatusOr<std::optional<std::uint64_t>> ArrivalOf(const facts::ChainId& chain,
                                                         std::uint64_t seq) const;
  // The bytes of the commit that arrived at that place of its chain; nothing if none has.
  // Errors: HISTORY_MISSING; those of reading.
  absl::StatusOr<std::optional<std::string>> CommitAt(const facts::ChainId& chain,
                                                      std::uint64_t seq) const;

  // The chains that have arrivals, in order: those of one device, or all.
  absl::StatusOr<std::vector<facts::ChainId>> ChainsOf(const DeviceId& device) const;
  absl::StatusOr<std::vector<facts::ChainId>> Chains() const;

  // The log's Merkle tree (facts/arrival.h): its root after `arrivals` arrivals, at most all of the
  // log, and the hashes of its subtrees, for proofs (base/merkle_proof.h). Subtrees of fewer than
  // 256 arrivals are computed from the log. Nodes are for one thread, and do not outlive the store.
  // Errors: OUT_OF_RANGE with reason LOG_SHORT; those of reading; DATA_LOSS with reason
  // TREE_MISSING (`broodpact rebuild` mends it).
  absl::StatusOr<Hash> TreeRootAt(std::uint64_t arrivals) const;
  std::unique_ptr<MerkleNodes> TreeNodes() const;

  // The log hash after `arrivals` arrivals: what tells whether another log has the same beginning.
  // Errors: OUT_OF_RANGE with reason LOG_SHORT; those of reading.
  absl::StatusOr<Hash> LogHashAt(std::uint64_t arrivals) const;

  // Computes the tree again from the log.
  absl::Status RegrowTree();

  // Own commits that have not arrived, in order of incarnation and seq.
  absl::Status AppendPending(const std::vector<PendingCommit>& commits);
  absl::StatusOr<std::vector<PendingCommit>> Pending() const;
  // Puts `commits` in the place of `gone`, all or nothing.
  absl::Status ReplacePending(const std::vector<PendingCommit>& gone,
                              const std::vector<PendingCommit>& commits);

  // Takes away all arrivals after `place`, which is a place of this log and the end of a run, and
  // puts what is `beside` it, all or nothing and durably. The fold goes with them: it
  // is to be made anew, as after ClearFold. Nothing happens if the log does not reach beyond it.
  // Errors: INVALID_ARGUMENT with reason LOG_OTHER (no place of this log); those of reading and
  // writing.
  absl::Status Rewind(const facts::LogPoint& place, const BesideRewind& beside);

  // Small values by name. The names "format", "point", "folded", "tree", "base" and "beginning" are
  // the store's own.
  absl::StatusOr<std::optional<std::string>> Meta(std::string_view name) const;
  absl::Status PutMeta(std::string_view name, std::string_view value,
                       Durability durability = Durability::kSynced);

  // The state, newest.
  absl::StatusOr<std::optional<std::string>> Subject(
      const registry::SubjectKey& key) const override;
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override;
  absl::StatusOr<std::vector<registry::StoredSubject>> SubjectsOfKind(
      registry::Kind kind, std::optional<IdBytes> after, std::size_t count_max) const override;
  absl::StatusOr<std::vector<std::optional<std::string>>> Subjects(
      const std::vector<registry::SubjectKey>& keys) const override;

  // The state as it is now, unmoved by later batches. Does not outlive the store.
  std::unique_ptr<registry::Source> Snapshot() const;

  // The same with its place in the log, to be read whole. Called by the thread that writes, on a
  // store that is open for writing.
  std::unique_ptr<Pinned> Pin() const;

  // What a fold of many commits reads: index entries as they are now, each question for the price
  // of a search, and subjects as they are when they are asked for. A registry::State on it may hand
  // out changes that are stored meanwhile (State::TakeChangesAhead): it asks for none of their
  // subjects again. For one thread; does not outlive the store. Cheap, and pins nothing that is to
  // be merged.
  std::unique_ptr<registry::Source> ForFold() const;

  // A digest over all subjects in key order: state_digest.h has the definition.
  absl::StatusOr<Hash> StateDigest() const;

  // Empties state, indexes and verdicts, so that the log can be folded again from arrival 1 on.
  absl::Status ClearFold();

  // Stores the fold of arrivals that are in the log already: verdicts of `first_arrival` on, which
  // is folded() + 1. Written, not synced: a rebuild that is broken off is done again; Flush() at
  // its end makes it durable.
  absl::Status AppendFold(std::uint64_t first_arrival,
                          const std::vector<registry::Verdict>& verdicts,
                          const std::vector<registry::Change>& changes);

  // Reads every stored byte against its checksum, and holds every index entry against its subject.
  // Returns what does not hold, one sentence each.
  absl::StatusOr<std::vector<std::string>> CheckDisk() const;

  // Flushes what a later opening would have to replay. Called after bulk writes and at the end.
  absl::Status Flush();

  // Begins that, and returns: it goes on beside what the owner does next, and whoever ends the
  // store waits for what is left of it. Where it cannot be done, as on a full disk, the next write
  // says so.
  void BeginFlush();

 private:
  struct Rep;
  explicit Store(std::unique_ptr<Rep> rep);
  std::unique_ptr<Rep> rep_;
};

}  // namespace broodpact::store
