#pragma once

// One hash for all that a replica can go on from at a place of the log: what members' devices
// attest of a snapshot.
//
//   heads digest = as of a state (state_digest.h), over the newest commit of every chain in order:
//                  key device(16) incarnation(4), value seq(8) hash(32)
//   state root   = SHA-256("broodpact state root v1" 0x00, cooperative(32), arrivals(8),
//                  log hash(32), state digest(32), heads digest(32), version of the fold(4))
//
// Numbers are big-endian. Two replicas that have folded the same log by the same version have the
// same root.

#include <cstdint>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/facts/arrival.h"
#include "client/store/pinned.h"

namespace broodpact::store {

struct StateAt {
  Hash cooperative{};
  facts::LogPoint point{};
  Hash state_digest{};
  Hash heads_digest{};
  std::uint32_t fold_version = 0;

  friend bool operator==(const StateAt&, const StateAt&) = default;
};

Hash RootOf(const StateAt& state);

// Reads all of a state, and of what version of the fold it is: this program's.
// Errors: those of Pinned.
absl::StatusOr<StateAt> StateOf(const Pinned& pinned, const Hash& cooperative);

}  // namespace broodpact::store
