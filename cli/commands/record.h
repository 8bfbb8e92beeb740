#pragma once

// broodpact clashes, log, verify, rebuild: what was recorded, and whether it is whole.

#include <cstdint>
#include <optional>
#include <vector>

#include "absl/status/statusor.h"

#include "broodpact/v1/registry.pb.h"
#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct ClashesOptions {
  bool all = false;
};
struct LogOptions {
  bool mine = false;
  std::optional<std::uint32_t> limit{};
};
struct VerifyOptions {};
struct RebuildOptions {};

absl::Status RunClashes(const Desk& desk, const ClashesOptions& options);
absl::Status RunLog(const Desk& desk, const LogOptions& options);
// Errors: DATA_LOSS with reason REPLICA_FAULTY (the faults are printed all the same).
absl::Status RunVerify(const Desk& desk, const VerifyOptions& options);
absl::Status RunRebuild(const Desk& desk, const RebuildOptions& options);

// An arrival of the log, in words.
absl::StatusOr<v1::LogEntry> EntryOfArrival(const replica::Replica& replica, std::uint64_t arrival);

void AddRecordCommands(Command& root);

}  // namespace broodpact::cli
