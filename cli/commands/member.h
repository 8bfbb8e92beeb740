#pragma once

// broodpact start, found, invite, join: becoming a keeper and a cooperative.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct StartOptions {
  std::string name{};
  std::string region{};
};
struct FoundOptions {
  std::string name{};
};
struct InviteOptions {
  std::string role{};  // keeper, registrar, observer; empty: keeper
  std::string for_keeper{};
};
struct JoinOptions {
  std::string code{};  // "-" or empty: one line of standard input
  bool whole = false;  // from no snapshot
};

absl::Status RunStart(const Desk& desk, const StartOptions& options);
absl::Status RunFound(const Desk& desk, const FoundOptions& options);
absl::Status RunInvite(const Desk& desk, const InviteOptions& options);
absl::Status RunJoin(const Desk& desk, const JoinOptions& options);

// Prints the code of an invitation, alone on `out`, and what to do with it. `what` it lets in, as
// in "keeper".
absl::Status ReportCode(const Desk& desk, const replica::Replica& replica, const std::string& code,
                        const std::string& what);

// The code that was given, or, where that is "-" or nothing, one line of standard input.
std::string CodeFrom(const Desk& desk, const std::string& given);

void AddMemberCommands(Command& root);

}  // namespace broodpact::cli
