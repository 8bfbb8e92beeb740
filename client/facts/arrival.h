#pragma once

// Arrival records: commits in the order in which they arrived, as the log stores and sends them.
//
// Framing, the same on disk and on the wire, records one after the other:
//
//   record    = size commit time flags [first] [signature]
//   size      = varint, bytes of the commit: 1 .. 65,536
//   commit    = its bytes
//   time      = 8 bytes, big-endian: arrival time, ms since 1970-01-01 UTC
//   flags     = 1 byte, the sum of: 1 with a signature, 2 with a first time
//   first     = 8 bytes, big-endian: the first time, 0 or later, and before `time`
//   signature = 64 bytes, Ed25519 over SignedMessage of the commit: it vouches for the run of its
//               chain that ends here
//
// and the log hash, over the whole log: H[0] is the cooperative's id, and
// H[g+1] = SHA-256(H[g], SHA-256 of commit g+1, time of g+1 in 8 bytes, big-endian, and its first
// time in as many, if it has one).
//
// The same arrivals are the leaves of a Merkle tree (base/merkle.h): leaf g, from 0, is SHA-256 of
// commit g+1 and its time in 8 bytes, big-endian, 40 bytes together; 48 with its first time. Its
// root is in every signed head: a few hashes show whether one head's log grew into another's.
//
// A first time is when the commit arrived in a log that its server has lost since, and proved it
// when it arrived again. The rules that look at days go by it, so that nobody loses by a loss of
// the server's; places and the times beside them are those of the log as it is.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "client/base/hash.h"
#include "client/base/signature.h"
#include "client/facts/commit.h"

namespace broodpact::facts {

// When a commit arrived; ms since 1970-01-01 UTC.
struct ArrivalTimes {
  std::int64_t time_ms = 0;                     // at its place; never goes back along the log
  std::optional<std::int64_t> first_time_ms{};  // before that, in a log that was lost
};

// The times of a record of any form that has both.
template <typename Record>
ArrivalTimes TimesOf(const Record& record) {
  return {.time_ms = record.time_ms, .first_time_ms = record.first_time_ms};
}

// When a commit arrived first: what its days are judged by.
template <typename Record>
std::int64_t FirstTimeOf(const Record& record) {
  return record.first_time_ms.value_or(record.time_ms);
}

// One arrival as a view of the bytes that it was read from.
struct ArrivalView {
  std::string_view commit{};
  std::int64_t time_ms = 0;
  std::optional<std::int64_t> first_time_ms{};
  std::optional<Signature> signature{};
};

// Appends a record to `records`.
void AppendArrival(std::string& records, const ArrivalView& arrival);

// The first `count` records of `records`; all where there are fewer.
// Errors: those of ArrivalReader.
absl::StatusOr<std::string> FirstRecords(std::string_view records, std::uint64_t count);

// Reads records one after the other.
class ArrivalReader {
 public:
  // `records` outlives the reader and the views it returns.
  explicit ArrivalReader(std::string_view records) : rest_(records) {}

  bool at_end() const { return rest_.empty(); }

  // The next record.
  // Errors: INVALID_ARGUMENT with reason RECORD_FORM (cut short, size out of range, unknown flag,
  // a first time that is not before the time).
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
Hash NextLogHash(const Hash& log_hash, const Hash& commit_hash, const ArrivalTimes& times);

// The hash of an arrival as a leaf of the log's tree.
Hash LogLeafHash(const Hash& commit_hash, const ArrivalTimes& times);

// Both of an arrival as it is read.
LogPoint PointAfter(const LogPoint& before, const ArrivalView& arrival);
Hash LogLeafHash(const ArrivalView& arrival);

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
  std::optional<std::int64_t> first_time_ms{};
};

}  // namespace broodpact::facts
