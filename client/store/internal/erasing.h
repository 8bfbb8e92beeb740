#pragma once

// Erases ranges of keys, one key after the other.
//
// RocksDB has one entry that erases a whole range. In version 7.8, which Debian 12 has, a merging
// of files that comes to nothing but such entries ends the process if the disk fails just then: it
// asks the file that could not be written for its first key
// (CompactionJob::UpdateCompactionJobStats). A disk that is full is to be an error. So that entry
// is what is left where the keys cannot be read, as after damage, or are too many for one batch.

#include <cstddef>
#include <string_view>

#include "rocksdb/write_batch.h"

#include "client/store/internal/database.h"
#include "client/store/internal/options.h"

namespace broodpact::store {

// Bounds what a range adds to a batch: some 40 MB of keys.
inline constexpr std::size_t kErasedSinglyMax = 1'000'000;

// Puts into `writes` the erasing of what `part` has from `begin` up to, and without, `end`. What is
// in `writes` already is not looked at.
void EraseRange(const Database& database, Part part, std::string_view begin, std::string_view end,
                rocksdb::WriteBatch& writes, std::size_t singly_max = kErasedSinglyMax);

// The same from `begin` to the end of the part.
void EraseFrom(const Database& database, Part part, std::string_view begin,
               rocksdb::WriteBatch& writes);

// All that a fold has left: state, index and verdicts.
void EraseFold(const Database& database, rocksdb::WriteBatch& writes);

}  // namespace broodpact::store
