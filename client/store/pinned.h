#pragma once

// The state as it was at one place of the log, unmoved by later batches: what a snapshot is written
// of, and what a device attests.

#include <functional>
#include <memory>
#include <string_view>
#include <utility>

#include "absl/status/status.h"

#include "client/base/merkle.h"
#include "client/facts/arrival.h"

namespace rocksdb {
class Snapshot;
}  // namespace rocksdb

namespace broodpact::store {

class Database;
enum class Part : std::size_t;

// For one thread at a time, which need not be the one that writes. Does not outlive its store
// (Store::Pin); holds on to what is to be merged meanwhile, so it is not kept for long.
class Pinned {
 public:
  Pinned(const Database& database, facts::LogPoint point, MerkleFrontier tree);
  ~Pinned();
  Pinned(const Pinned&) = delete;
  Pinned& operator=(const Pinned&) = delete;

  const facts::LogPoint& point() const { return point_; }
  // Over the arrivals up to there.
  const MerkleFrontier& tree() const { return tree_; }

  // Calls `visit` for every subject in key order (registry::KeyText), until it returns an error.
  // Errors: those of `visit`; STORE_DAMAGED, STORE_READ.
  using Visit = std::function<absl::Status(std::string_view key, std::string_view value)>;
  absl::Status VisitSubjects(const Visit& visit) const;

  // The same for the newest commit of every chain: device(16) incarnation(4) -> seq(8) hash(32).
  absl::Status VisitHeads(const Visit& visit) const;

 private:
  absl::Status VisitPart(Part part, std::string_view prefix, const Visit& visit) const;

  const Database& database_;
  const rocksdb::Snapshot* snapshot_;
  facts::LogPoint point_;
  MerkleFrontier tree_;
};

}  // namespace broodpact::store
