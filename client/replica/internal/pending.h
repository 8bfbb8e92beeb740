#pragma once

// Commits that have not arrived, as the store keeps them.

#include "absl/status/statusor.h"

#include "client/device/random.h"
#include "client/replica/home.h"
#include "client/store/store.h"

namespace broodpact::replica {

// Which pending commits the log has by now: those very ones, not only others at their places.
class Deliveries {
 public:
  // `database` outlives this.
  explicit Deliveries(const store::Store& database) : store_(database) {}

  // Quick for commits that come in order of their chains.
  absl::StatusOr<bool> Has(const store::PendingCommit& pending);

  // Whether a commit of somebody else, which has not arrived, cannot arrive at its place any more,
  // or its device is no member's by the log: its author states it again, with what builds on it.
  // For commits in order of their chains.
  absl::StatusOr<bool> IsAside(const facts::Commit& commit);

  // Whether its author has stated it again, and that has arrived and counts.
  absl::StatusOr<bool> IsStatedAgain(const facts::Commit& commit) const;

 private:
  const store::Store& store_;
  facts::ChainId chain_{};  // whose head is known; names no device at first
  facts::ChainHead head_{};
  facts::ChainId begun_{};  // the chain that the last answer of IsAside was about
  bool aside_ = false;
};

// Writes a fresh number beside the database, then into it: after a crash in between they differ,
// which costs an incarnation and nothing else.
absl::Status NumberInstall(const Home& home, device::Randomness& randomness,
                           store::Store& database);

}  // namespace broodpact::replica
