#pragma once

// What an open store holds.

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <mutex>

#include "rocksdb/write_batch.h"

#include "client/store/internal/database.h"
#include "client/store/internal/keys.h"
#include "client/store/store.h"

namespace broodpact::store {

// Small values by name, none of the store's own.
void PutMetaValues(rocksdb::WriteBatch& writes, const Database& database,
                   const std::map<std::string, std::string>& values);

struct Store::Rep {
  std::filesystem::path folder;
  Access access = Access::kReadOnly;
  std::unique_ptr<Database> database;

  mutable std::mutex mutex;  // guards point, base, folded and tree
  facts::LogPoint point;
  facts::LogPoint base;  // the log begins after it
  std::uint64_t folded = 0;
  MerkleFrontier tree;  // over the arrivals up to `point`, where it is open for writing

  // The rest is the writing thread's alone.
  std::uint64_t fold_version = 1;  // the first one is not written down
  facts::LogPoint synced;          // the newest point that survives a power loss
  // The first write that failed. RocksDB's log file may end in half a record then, and it must not
  // be written on: the next opening cuts it off.
  absl::Status write_error;
  bool flush_begun = false;  // and not waited for
  std::chrono::steady_clock::time_point head_written{};
  std::map<facts::ChainId, std::uint64_t> pending_from;  // no pending commit is before that seq

  facts::LogPoint Point() const;
  std::uint64_t Folded() const;

  // Reads format, point and fold, and holds the log against the head file.
  absl::Status Load();
  absl::Status LoadFormat();
  // A database that has no format is a new one, or has lost what was written to it first.
  absl::Status BeginFormat();

  // Takes away what a beginning has left that was cut off. beginning.cc
  absl::Status LoadBeginning();
  absl::Status ClearBeginning();

  // The error for a log that does not hold what is asked for, because it begins after it.
  absl::Status HistoryMissing() const;

  // Notes that the fold is made by the rules of this program, from the first arrival on.
  void PutFoldVersion(rocksdb::WriteBatch& writes);

  // Writes a batch, all or nothing.
  absl::Status Write(rocksdb::WriteBatch& batch, Durability durability);

  // Reads the tree; one that ends elsewhere than the log is to be computed again.
  absl::Status LoadTree();
  // Puts what a range adds to the tree, and returns the frontier after it.
  absl::StatusOr<MerkleFrontier> PutTree(rocksdb::WriteBatch& writes,
                                         const facts::Range& range) const;

  // Notes that the log reaches `after`, and its tree `tree_after`.
  void Advance(const facts::LogPoint& after, MerkleFrontier tree_after, Durability durability);
  void WriteHead();

  absl::StatusOr<std::vector<facts::ChainId>> ChainsWith(const Key& prefix) const;

  void PutRange(rocksdb::WriteBatch& writes, const Batch& batch) const;
  absl::Status DeleteDelivered(rocksdb::WriteBatch& writes, const Batch& batch) const;
};

}  // namespace broodpact::store
