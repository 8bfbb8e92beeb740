#pragma once

// Two small files beside the database: who writes to it, and how far its log reached.
//
//   holder   one line: process id, ms since 1970-01-01 UTC, program. Written by a process that
//            opened the replica for writing, so that the next one can say who is in its way; a
//            process that crashed leaves it behind, which harms nothing: the lock is RocksDB's.
//   head     one line: arrivals, log hash in hexadecimal. Never ahead of what is on disk, so that
//            an opened log that is shorter has lost something. Written after a synced batch at
//            most once a second, after a flush, and at the end; a file that cannot be read as
//            such is ignored.

#include <filesystem>
#include <optional>
#include <string>

#include "client/facts/arrival.h"

namespace broodpact::store {

// Failures are ignored: the files help to explain, and nothing depends on them.
void WriteHolder(const std::filesystem::path& folder);
void RemoveHolder(const std::filesystem::path& folder);

// "another broodpact (process 1234, since 09:30)", or "another process" if that is not known.
std::string HolderText(const std::filesystem::path& folder);

void WriteHeadFile(const std::filesystem::path& folder, const facts::LogPoint& point);
std::optional<facts::LogPoint> ReadHeadFile(const std::filesystem::path& folder);

}  // namespace broodpact::store
