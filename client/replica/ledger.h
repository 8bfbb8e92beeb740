#pragma once

// A log and its fold, kept together: checks ranges of arrivals, folds them and stores both in one
// batch. The heart of every replica, a keeper's and a server's.
//
// Long logs are appended ahead: while one range is stored, the next one is checked and folded.

#include <cstdint>
#include <map>
#include <memory>
#include <vector>

#include "absl/status/statusor.h"

#include "client/facts/range.h"
#include "client/registry/state.h"
#include "client/registry/verdict.h"
#include "client/store/store.h"

namespace broodpact::replica {

// Appends to one store. Used by one thread at a time; readers use Store::Snapshot() meanwhile.
class Ledger {
 public:
  // `store` outlives the ledger.
  explicit Ledger(store::Store& store);
  ~Ledger();

  // Zeros until the cooperative is known.
  Hash cooperative() const { return cooperative_; }
  // Sets the cooperative that this log belongs to. Once.
  absl::Status SetCooperative(const Hash& cooperative);

  // The end of the log, ranges that are being stored included.
  facts::LogPoint point() const;
  // The newest commit of a chain, ranges that are being stored included.
  absl::StatusOr<facts::ChainHead> HeadOf(const facts::ChainId& chain) const;

  // What must be known to check a range that begins at the end of the log.
  facts::RangeContext Context();

  // A device's key, if it is a member's.
  absl::StatusOr<std::optional<PublicKey>> KeyOf(const DeviceId& device);

  // Checks (facts::CheckRange), folds and stores a range. `own` is the chain whose pending commits
  // are delivered by it; nothing on a server.
  // Errors: those of CheckRange and Store::Append. Nothing is then stored or changed.
  absl::StatusOr<std::vector<registry::Verdict>> Append(const facts::Range& range,
                                                        std::optional<facts::ChainId> own,
                                                        store::Durability durability);

  // The same for a range that was checked at the door: `heads` are the chain heads after it.
  absl::StatusOr<std::vector<registry::Verdict>> AppendChecked(
      const facts::Range& range, std::map<facts::ChainId, facts::ChainHead> heads,
      std::optional<facts::ChainId> own, store::Durability durability);

  // As Append, durably, but returns when the range is folded: another thread stores it. Until
  // Settle() nobody else may write to the store.
  // Errors: those of Append, also for the range before this one. From the range that could not be
  // stored on, nothing is stored or changed.
  absl::StatusOr<std::vector<registry::Verdict>> AppendAhead(
      std::shared_ptr<const facts::Range> range, std::optional<facts::ChainId> own);

  // Waits until all that was appended ahead is stored. Errors: those of Store::Append.
  absl::Status Settle();

 private:
  class Base;
  struct Ahead;

  // Drops what is cached, folded and not stored.
  void Restart();
  absl::Status CheckFollows(const facts::Range& range) const;
  // Folds the range of a batch into its verdicts.
  absl::Status Fold(store::Batch& batch);
  absl::Status FoldAndStore(store::Batch& batch);
  void StoreAhead(std::shared_ptr<const facts::Range> range, std::unique_ptr<store::Batch> batch);
  void BoundCache();

  store::Store& store_;
  std::unique_ptr<Base> base_;    // what the state reads
  std::unique_ptr<Ahead> ahead_;  // the range that is being stored, if any
  std::unique_ptr<registry::State> state_;
  Hash cooperative_{};
};

}  // namespace broodpact::replica
