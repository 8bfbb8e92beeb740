#pragma once

// Arrival records: commits in the order in which they arrived, as the log stores and sends them.
//
// Framing, the same on disk and on the wire, records one after the other:
//
//   record    = size commit time flag [signature]
//   size      = varint, bytes of the commit: 1 .. 65,536
//   commit    = its bytes
//   time      = 8 bytes, big-endian: arrival time, ms since 1970-01-01 UTC
//   flag      = 1 byte: 0 without, 1 with a signature
//   signature = 64 bytes, Ed25519 over SignedMessage of the commit: it vouches for the run of its
//               chain that ends here
//
// and the log hash, over the whole log: H[0] is the cooperative's id, and
// H[g+1] = SHA-256(H[g], SHA-256 of commit g+1, time of g+1 in 8 bytes, big-endian).
//
// The same arrivals are the leaves of a Merkle tree (base/merkle.h): leaf g, from 0, is SHA-256 of
// commit g+1 and its time in 8 bytes, big-endian, 40 bytes together. Its root is in every signed
// head: a few hashes show whether one head's log grew into another's.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/signature.h"
#include "client/facts/commit.h"

namespace broodpact::facts {

// One arrival as a view of the bytes that it was read from.
struct ArrivalView {
  std::string_view commit{};
  std::int64_t time_ms = 0;
  std::optional<Signature> signature{};
};

// Appends a record to `records`.
void AppendArrival(std::string& records, const ArrivalView& arrival);

// Reads records one after the other.
class ArrivalReader {
 public:
  // `records` outlives the reader and the views it returns.
  explicit ArrivalReader(std::string_view records) : rest_(records) {}

  bool at_end() const { return rest_.empty(); }

  // The next record.
  // Errors: INVALID_ARGUMENT with reason RECORD_FORM (cut short, size out of range, unknown flag).
  absl::StatusOr<ArrivalView> Next();

 private:
  std::string_view rest_;
};

// A place in the log: that many arrivals, and H after them.
struct LogPoint {
  std::uint64_t arrivals = 0;
  Hash log_hash{};

  friend bool operator==(const LogPoint&, const LogPoint&) = default;
};

// The log hash after one more arrival.
Hash NextLogHash(const Hash& log_hash, const Hash& commit_hash, std::int64_t time_ms);

// The hash of an arrival as a leaf of the log's tree.
Hash LogLeafHash(const Hash& commit_hash, std::int64_t time_ms);

// What a server claims of its log.
struct HeadClaim {
  std::uint32_t epoch = 0;
  LogPoint point{};
  Hash tree_root{};  // of the first `point.arrivals` leaves
  std::int64_t time_ms = 0;

  friend bool operator==(const HeadClaim&, const HeadClaim&) = default;
};

// The bytes that a server signs for a head of its log (see SignedHead in sync_service.proto).
std::string HeadMessage(const Hash& cooperative, const HeadClaim& claim);

// A commit with its place, as the fold takes it. Final: arrival counts from 1. Provisional:
// arrival is 0.
struct Arrived {
  Commit commit{};
  std::uint64_t arrival = 0;
  std::int64_t time_ms = 0;
};

}  // namespace broodpact::facts
