#pragma once

// One chain of a replica, as a session needs it: what to push, what to do with what comes in, and
// the server held to what it signs meanwhile.

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "client/replica/internal/history.h"
#include "client/replica/internal/known_log.h"
#include "client/replica/internal/rep.h"
#include "client/replica/ledger.h"
#include "client/sync/session.h"

namespace broodpact::replica {

// From so many commits on, a range is made durable when it is stored, and the next one is folded
// meanwhile. A smaller one can wait for the next durable write: what a power loss takes of it, the
// server gives again, and own commits leave the undelivered ones in the same batch.
inline constexpr std::size_t kDurableRange = 256;

// Heads of a session that wait for the log to reach them: the newest, where there are more.
inline constexpr std::size_t kPromisesMax = 1'024;

// The small value of the store with what commits say they have seen of another log, until a session
// has ended after it: whether it convicts the server is judged then. As doubts (history.h), whose
// heads are the place here that the log had come to with the commit, and the place that was seen.
inline constexpr char kMetaSeenOther[] = "seen-other";

class ChainTarget final : public sync::Target {
 public:
  // All that is passed outlives the target. `undelivered` is of the whole replica.
  // `verdicts_before`: what was final, and has been told as such, of a log that is gone.
  ChainTarget(store::Store& database, Ledger& ledger, const ChainTask& task,
              const std::vector<Replica::Undelivered>& undelivered, const device::Clock& clock,
              std::map<Hash, registry::Verdict> verdicts_before = {});

  Hash cooperative() const override { return ledger_.cooperative(); }
  std::uint32_t incarnation() const override { return task_.chain.incarnation; }
  std::optional<DeviceId> device() const override;
  facts::LogPoint point() const override { return ledger_.point(); }
  absl::Status Apply(facts::Range received) override;
  absl::StatusOr<std::vector<facts::SignedCommit>> Undelivered(
      const facts::ChainHead& server_head) override;
  absl::Status HearHead(const sync::Head& head) override;
  absl::Status HearEpochs(const sync::Epochs& epochs) override;
  absl::Status HearSnapshot(const facts::LogPoint& snapshot) override;
  std::optional<sync::Head> LastHead() const override;
  absl::Status KeepHead(const sync::Head& head) override;

  // Where the log comes to that place, computes the root of the state there and keeps it
  // (snapshot_notes.h), then goes on. Whatever snapshot the server has: this place and no other.
  absl::Status MeasureAt(const facts::LogPoint& place);

  // Stores what was applied, and the heads.
  absl::Status Settle();

  // After a session, however it ended: the same, and holds the log against the heads that it has
  // reached. What they show is an accusation and no error.
  absl::Status Finish();

  // After a session: where commits say that they have seen another log, in this session or in one
  // that did not live to tell. The epochs that the server told at the beginning of the session do
  // not explain it; it may have told a loss since.
  std::vector<Doubt> TakeDoubts();

  // What the server is accused of by its own heads, unless it says that it has lost what they were
  // of: the error that the session ended with, or would have if it had come to its end.
  const std::optional<Doubt>& accusation() const { return accusation_; }

  std::vector<ChangedVerdict> TakeChanged() { return std::move(changed_); }
  // Those of `verdicts` whose commits the session has not brought.
  std::map<Hash, registry::Verdict> NotArrived(std::map<Hash, registry::Verdict> verdicts) const;
  std::uint64_t commits_applied() const { return commits_applied_; }

 private:
  using Verdicts = std::map<Hash, registry::Verdict>;

  absl::Status ApplyPart(facts::Range received);
  // Computes and keeps the root of the state, which is the one at `measure_at_`.
  absl::Status Measure();

  void Compare(const facts::Arrived& arrived, const registry::Verdict& final_verdict);

  // Whether what is carried goes on where the server's chain ends. If not, its author, or somebody
  // who carries more, has been there before.
  bool Continues(const facts::ChainHead& server_head) const;

  // Whether the server's head of this chain is a commit that this replica wrote.
  absl::Status CheckOnOwnChain(const facts::ChainHead& server_head) const;

  absl::Status LoadHeads();
  absl::Status CheckKey(const sync::Head& head) const;
  // Takes up what was noted by a session that did not live to tell, but for what a loss explains by
  // now, what is kept already, and what is of a log that is not here. Once the server has told its
  // losses.
  absl::Status LoadDoubts();
  // Before the part of the log up to `place` that they are of is stored: it does not come again.
  absl::Status NoteDoubts(std::vector<Doubt> doubts, const facts::LogPoint& place);
  absl::Status WriteDoubts();
  // Before a part of the log up to `arrivals` is stored: keeps a head that vouches for it, so that
  // whatever stands in the log, the server can be shown its word for it.
  absl::Status WritePromise(std::uint64_t arrivals);
  absl::Status TakePromise(const sync::Head& head);
  // What the server is convicted of by a promise that the log, or another head, does not keep to.
  absl::Status BreakPromise(const Promise& broken, const sync::Head& head);
  // Holds the heads against the log that has reached them meanwhile.
  absl::Status HoldToPromises();
  // The same, and forgets those that it has kept.
  absl::Status CheckPromises();
  absl::Status Convict(const Doubt& doubt);

  store::Store& store_;
  Ledger& ledger_;
  ChainTask task_;
  const device::Clock& clock_;
  std::vector<const Replica::Undelivered*> own_;  // of this chain, in order
  Verdicts told_;                                 // of what has not arrived, or is to arrive again
  std::vector<ChangedVerdict> changed_;
  SeenCheck seen_;
  std::vector<Doubt> doubts_;  // by what commits say they have seen, as they are written
  bool doubts_loaded_ = false;
  std::optional<Doubt> accusation_;
  sync::Epochs epochs_;
  KnownLog known_;  // as the session began
  std::optional<sync::Head> head_;
  std::map<std::uint64_t, Promise> promised_;  // of arrivals that are not here yet
  std::optional<sync::Head> earlier_;  // the newest of an earlier session that was not reached
  std::string promise_written_;
  std::uint64_t promise_reaches_ = 0;  // arrivals of the promise that is written
  bool loaded_ = false;
  bool head_written_ = true;
  std::int64_t head_written_ms_ = 0;
  std::uint64_t commits_applied_ = 0;
  std::optional<facts::LogPoint> measure_at_;  // not reached yet
  bool measures_there_alone_ = false;
};

}  // namespace broodpact::replica
