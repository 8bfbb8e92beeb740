#pragma once

// The log hash at any place in the log: what tells whether a client's log is a beginning of ours.
//
// The store keeps the hash at the end of the log only. Every kCheckpointArrivals it is written down
// beside, and found from there on by hashing at most as many arrivals again. A checkpoint that is
// missing costs time, nothing else.

#include <cstdint>

#include "absl/status/statusor.h"

#include "client/facts/range.h"
#include "client/store/store.h"

namespace broodpact::server {

inline constexpr std::uint64_t kCheckpointArrivals = 4'096;

// The log hash after `arrivals` arrivals, at most those of the store. Thread-safe.
// Errors: OUT_OF_RANGE with reason LOG_SHORT; those of the store.
absl::StatusOr<Hash> LogHashAt(const store::Store& store, const Hash& cooperative,
                               std::uint64_t arrivals);

// Writes down the checkpoints that lie in a range. Called by the thread that writes to the store.
absl::Status KeepLogHashes(store::Store& store, const facts::Range& range);

}  // namespace broodpact::server
