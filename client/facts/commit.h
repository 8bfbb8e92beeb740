#pragma once

// Commits: one user action each, signed and chained. Bytes in, values out, and back.
//
// A commit is serialized once, by its author. Its bytes are what is hashed, signed, stored and
// sent; nothing here writes a parsed commit again.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/id.h"
#include "client/base/signature.h"
#include "client/facts/statement.h"

namespace broodpact::facts {

inline constexpr std::size_t kCommitBytesMax = 65'536;
inline constexpr std::size_t kStatementsMax = 64;
// What a device writes stays within this, so that a commit which loses its place in its chain, or
// is late, fits whole into another one (Restatement, Adoption). That one alone may be longer.
inline constexpr std::size_t kOwnCommitBytesMax = kCommitBytesMax - 512;

// What was seen of the log when a commit was written.
struct Seen {
  std::uint64_t arrivals = 0;
  IdBytes log_hash{};  // first half of H; zeros at 0 arrivals

  friend bool operator==(const Seen&, const Seen&) = default;
};

// What somebody has seen who has this log.
inline Seen SeenOf(std::uint64_t arrivals, const Hash& log_hash) {
  if (arrivals == 0) return {};
  return {.arrivals = arrivals, .log_hash = FirstHalf<Token>(log_hash).bytes};
}

// Everything but the statements.
struct CommitHeader {
  Hash cooperative{};  // zeros in the founding commit
  DeviceId device{};
  std::uint32_t incarnation = 1;
  std::uint64_t seq = 1;
  Hash prev{};  // zeros at seq 1
  Seen seen{};
  std::int64_t clock_ms = 0;

  friend bool operator==(const CommitHeader&, const CommitHeader&) = default;
};

// A commit, read. `hash` is the SHA-256 of the bytes that it was read from.
struct Commit {
  Hash hash{};
  CommitHeader header{};
  std::vector<Statement> statements{};

  // What the statements of this commit can be spent by.
  Token token() const { return FirstHalf<Token>(hash); }
};

// A commit as it travels before it has arrived.
struct SignedCommit {
  std::string bytes{};
  Signature signature{};
};

// Reads a commit. Checks its form only: who may state what is the fold's business.
//
// Errors, in this order: INVALID_ARGUMENT with reason COMMIT_TOO_LONG, COMMIT_FORM (not a message,
// a field of wrong length, an enum value out of range, seq 0, incarnation 0, prev missing or not
// due, no or too many statements, an id missing, a restatement of what is no commit or is one
// itself), NAME_EMPTY, NAME_TOO_LONG, TEXT_MALFORMED,
// DATE_OUT_OF_RANGE, COUNT_OUT_OF_RANGE, REGION_SYNTAX, and those of ParseAgreement. The message
// names the statement and the field.
absl::StatusOr<Commit> ParseCommit(std::string_view bytes);

// As ParseCommit, for a caller who has the hash already.
absl::StatusOr<Commit> ParseCommit(std::string_view bytes, const Hash& hash);

// Writes the bytes of a commit. `statements` hold no Unknown. ParseCommit reads them back, if each
// value is within its bounds; a caller with input from a person parses what it built.
std::string BuildCommit(const CommitHeader& header, const std::vector<Statement>& statements);

// What a device signs for a commit with this hash.
std::string SignedMessage(const Hash& commit_hash);

// Signs a commit.
Signature SignCommit(const Signer& signer, const Hash& commit_hash);

// Whether `signature` is the device's over that commit.
bool VerifyCommit(const PublicKey& device_key, const Hash& commit_hash, const Signature& signature);

}  // namespace broodpact::facts
