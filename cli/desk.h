#pragma once

// What a command is given: where it writes and reads, whose folder it works in, and the clock and
// randomness of the world outside. Nothing is global, so a test can set every desk.

#include <istream>
#include <memory>
#include <string>
#include <string_view>

#include "absl/status/statusor.h"

#include "cli/terminal/terminal.h"
#include "client/base/day.h"
#include "client/replica/replica.h"
#include "client/replica/view.h"

namespace broodpact::cli {

struct Desk {
  const Terminal& terminal;
  std::istream& in;
  replica::Home home;
  replica::Surroundings surroundings;
};

// Opens the keeper's replica to look at it: works beside another process that writes.
// Errors: those of Replica::Open.
absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToRead(const Desk& desk);

// Opens it to change it.
// Errors: those of Replica::Open, REPLICA_BUSY among them.
absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToWrite(const Desk& desk);

// Opens it for a sync: what waits is not folded before that (Replica::OpenToSync).
// Errors: as OpenToWrite.
absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToSync(const Desk& desk);

// Opens it to state something: without a cooperative, looking for what the statement names would
// only find that it is not there.
// Errors: those of OpenToWrite; FAILED_PRECONDITION with reason NO_COOPERATIVE.
absl::StatusOr<std::unique_ptr<replica::Replica>> OpenToAct(const Desk& desk);

// The registry as the replica's keeper sees it. Does not outlive the replica.
replica::View ViewOf(const replica::Replica& replica);

// The days that `text` names, as the option `option` has it; today where it is empty.
// Errors: those of ParseDaySpan.
absl::StatusOr<DaySpan> DayOf(const Desk& desk, std::string_view option, std::string_view text);

// The one day that `text` names.
// Errors: those of ParseDay.
absl::StatusOr<Day> OneDayOf(const Desk& desk, std::string_view option, std::string_view text);

// A number of things: "1 sling", "2 slings".
std::string Counted(std::uint64_t count, std::string_view one);

}  // namespace broodpact::cli
