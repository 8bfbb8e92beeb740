#pragma once

// A device's chain: which commits follow on which. One signature vouches for the run before it,
// since each commit carries the hash of the one before (the idea of hash-linked time stamps:
// Haber & Stornetta, 1991).
//
// Pure: heads go in, heads come out.

#include <cstdint>
#include <string_view>

#include "absl/status/status.h"

#include "client/facts/commit.h"

namespace broodpact::facts {

// One life of a device.
struct ChainId {
  DeviceId device{};
  std::uint32_t incarnation = 1;

  friend auto operator<=>(const ChainId&, const ChainId&) = default;
};

// The newest commit of a chain. seq 0: none yet.
struct ChainHead {
  std::uint64_t seq = 0;
  Hash hash{};

  friend bool operator==(const ChainHead&, const ChainHead&) = default;
};

// The chain that a commit is part of.
inline ChainId ChainOf(const CommitHeader& header) {
  return {header.device, header.incarnation};
}

// Checks that `commit` follows directly on `head`: same device, next seq, prev is its hash.
//
// Errors: FAILED_PRECONDITION with reason CHAIN_HOLE (seq beyond the next: commits are missing in
// between, or prev missing), CHAIN_FORK (another commit stands at that place already, or prev is
// another hash).
absl::Status CheckFollows(const ChainHead& head, const Commit& commit);

// The head after `commit`.
inline ChainHead HeadAfter(const Commit& commit) {
  return {commit.header.seq, commit.hash};
}

}  // namespace broodpact::facts
