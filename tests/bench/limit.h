#pragma once

// What no replica can beat: the work that every commit needs whatever the design, measured in the
// same run, so that a figure is a ratio and not a property of the machine.

#include <cstdint>
#include <filesystem>
#include <string>

namespace broodpact::bench {

// Seconds, one thread, for all commits in `records` (client/facts/arrival.h).
struct Limit {
  double hashing = 0;  // SHA-256 of each commit
  double parsing = 0;  // protobuf parse of each commit
  double writing = 0;  // raw RocksDB batches of the same bytes, one key a commit
  double total() const { return hashing + parsing + writing; }
};

// What has to survive a power loss before the next batch: what is acknowledged is, what is pulled
// need not be but at the end.
enum class Syncs { kEveryBatch, kLastBatch };

// Measures the limit, with `batch` commits a batch. `scratch` is a folder that is not there; it is
// removed again. The best of three rounds.
Limit MeasureLimit(const std::string& records, std::size_t batch, Syncs syncs,
                   const std::filesystem::path& scratch);

// Seconds of a raw RocksDB write of every key and value that a replica's database holds: log, state
// and indexes, in key order, 1,000 a batch, the last one synced. No indexed replica can beat it.
double MeasureRawWrite(const std::filesystem::path& database, const std::filesystem::path& scratch);

// Median seconds of one write of `bytes` bytes and an fdatasync in `folder`.
double MedianSync(const std::filesystem::path& folder, std::size_t bytes);

}  // namespace broodpact::bench
