#pragma once

// What a keeper has to be told about this device, its clock and its server: one sentence each, and
// what to do about it.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/statusor.h"

#include "broodpact/v1/registry.pb.h"
#include "client/replica/replica.h"

namespace broodpact::replica {

// A clock that is off by more than this is told: dates that nobody typed are taken from it.
inline constexpr std::int64_t kClockToleranceMillis = 600'000;

// That the clock is wrong, if it is: `ahead_ms` is how much of another clock, whose `name` is as in
// "the server's". Nothing where it is within the tolerance.
std::optional<std::string> ClockNote(std::int64_t ahead_ms, std::string_view name);

// How much the replica's clock is behind the newest arrival and the server's last head: 0 where it
// is not, as far as can be known without the server.
absl::StatusOr<std::int64_t> ClockBehindMillis(const Replica& replica);

// A head as it is shown, whole.
v1::LogHead HeadMessageOf(const sync::Head& head);

// What there is to know at any time.
absl::StatusOr<std::vector<std::string>> NotesOf(const Replica& replica);

// What this replica did about losses of the server's.
std::string RepairNote(const Repair& repair);

// What a sync brought up, but for losses: Replica::UntoldRepair has them.
std::vector<std::string> NotesOf(const Replica& replica, const Synced& synced);

}  // namespace broodpact::replica
