#pragma once

// A log made up for tests, with its naive twin: everything that was appended, in a vector.
//
// The store neither hashes commits nor verifies signatures, so their bytes are any bytes here.

#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "client/facts/range.h"
#include "client/registry/verdict.h"
#include "client/store/store.h"

namespace broodpact::store {

// A fresh folder that goes away with this.
class TempFolder {
 public:
  TempFolder();
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;

  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

// How a made-up log looks.
struct TrialShape {
  std::uint32_t seed = 1;
  std::uint32_t chains = 4;
  std::uint32_t run_max = 12;  // commits that one signature vouches for
  std::uint32_t commit_bytes_max = 400;
};

// One appended arrival, as the twin remembers it.
struct TrialArrival {
  facts::ChainId chain;
  std::uint64_t seq = 0;
  StoredArrival stored;
};

class TrialLog {
 public:
  explicit TrialLog(const TrialShape& shape);

  // The next `count` arrivals or some more: every run in the range is vouched for at its end.
  facts::Range NextRange(std::size_t count);

  // The batch of a range that came from NextRange, with the twin's verdicts and heads.
  Batch BatchOf(const facts::Range& range) const;

  // Makes a range and appends it. The status is to be OK.
  absl::Status AppendTo(Store& store, std::size_t count,
                        Durability durability = Durability::kSynced);

  const std::vector<TrialArrival>& arrivals() const { return arrivals_; }
  const facts::LogPoint& point() const { return point_; }
  const std::map<facts::ChainId, facts::ChainHead>& heads() const { return heads_; }

 private:
  void AddArrival(facts::Range& range, const facts::ChainId& chain, bool signs);
  std::uint32_t Below(std::uint32_t bound);

  TrialShape shape_;
  std::mt19937 random_;
  facts::LogPoint point_;
  std::map<facts::ChainId, facts::ChainHead> heads_;
  std::vector<TrialArrival> arrivals_;
};

// Whether two stored arrivals are equal in every field.
bool Same(const StoredArrival& a, const StoredArrival& b);

// Opens for writing, an empty replica where there is none, and stops the test if that fails.
std::unique_ptr<Store> OpenForWriting(const std::filesystem::path& folder);

}  // namespace broodpact::store
