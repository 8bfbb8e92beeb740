#pragma once

// What is checked at the door, before anything is put into the log: form, author, chain within the
// run, signature. Whether a commit counts is the fold's business alone.
//
// Pure functions on bytes of strangers. They run on the threads that receive, so that pushes from
// many devices are parsed at the same time; the one thread that writes finds checked runs.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/facts/chain.h"
#include "client/facts/commit.h"

namespace broodpact::server {

// Commits of one chain, dense, vouched for by the signature of the last.
struct Run {
  facts::ChainId chain;
  std::vector<facts::Commit> commits;  // at least one
  std::vector<std::string> bytes;      // of each commit
  std::size_t bytes_size = 0;          // of all of them
  Signature signature{};
  // When each had arrived in a log that was lost, where that is proved. Empty: none had.
  std::vector<std::optional<std::int64_t>> first_times_ms{};
};

// Who sends a run, and where to.
struct Sender {
  Hash cooperative{};
  DeviceId device;
  PublicKey key{};
};

// Checks a pushed run.
//
// Errors, in this order: INVALID_ARGUMENT with reason COMMIT_FORM (no commit); RESOURCE_EXHAUSTED
// with reason CHUNK_TOO_LARGE; INVALID_ARGUMENT with those of ParseCommit, or DEVICE_OTHER (not the
// sender's commit); FAILED_PRECONDITION with reason COOPERATIVE_OTHER, CHAIN_HOLE or CHAIN_FORK
// (within the run); INVALID_ARGUMENT with reason SIGNATURE_BAD.
absl::StatusOr<Run> CheckRun(std::vector<std::string> commits, std::string_view signature,
                             const Sender& sender);

// Checks a founding commit: one statement, a Founding, signed by the device that it names.
// Errors: those of CheckRun; INVALID_ARGUMENT with reason FOUNDING_FORM.
absl::StatusOr<Run> CheckFounding(std::string commit, std::string_view signature);

// What a newcomer's first commit says first: a Joining, or a DeviceJoining.
struct Entering {
  PublicKey invite_key{};
  KeeperId keeper;
  PublicKey device_key{};
  Signature invite_signature{};
};
std::optional<Entering> EnteringIn(const facts::Commit& commit);

// Checks a newcomer's first commit: its first statement is a Joining, or the DeviceJoining of a
// further device, with the invitation's signature, and it is signed by the device that it names.
// Errors: those of CheckRun; INVALID_ARGUMENT with reason JOINING_FORM or SIGNATURE_BAD.
absl::StatusOr<Run> CheckJoining(std::string commit, std::string_view signature,
                                 const Hash& cooperative);

}  // namespace broodpact::server
