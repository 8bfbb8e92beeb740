#pragma once

// A log and its fold, kept together: checks ranges of arrivals, folds them and stores both in one
// batch. The heart of every replica, a keeper's and a server's.

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

 private:
  // Drops what is cached, folded and not stored.
  void Restart();
  absl::StatusOr<std::vector<registry::Verdict>> FoldAndStore(
      const facts::Range& range, std::map<facts::ChainId, facts::ChainHead> heads,
      std::optional<facts::ChainId> own, store::Durability durability);

  store::Store& store_;
  std::unique_ptr<registry::State> state_;
  Hash cooperative_{};
};

}  // namespace broodpact::replica
