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
  double writing = 0;  // raw RocksDB batches of the same bytes, 1,000 a batch, the last one synced
  double total() const { return hashing + parsing + writing; }
};

// Measures the limit. `scratch` is an empty folder for the database; it is removed.
Limit MeasureLimit(const std::string& records, const std::filesystem::path& scratch);

// Median seconds of one write of `bytes` bytes and an fdatasync in `folder`.
double MedianSync(const std::filesystem::path& folder, std::size_t bytes);

}  // namespace broodpact::bench
