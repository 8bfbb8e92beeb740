#pragma once

// broodpact loan sheet, loan check, split sheet, split check: agreements and settlements on paper,
// and whether a paper is what the registry says.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct LoanSheetOptions {
  std::string loan{};
  std::string html{};
  std::string pdf{};
  std::string curve{};  // sizes; empty: 0..200
};
struct SplitSheetOptions {
  std::string clutch{};
  std::string html{};
  std::string pdf{};
};
struct CheckLoanSheetOptions {
  std::string sheet{};
};
struct CheckSplitSheetOptions {
  std::string sheet{};
};

absl::Status RunLoanSheet(const Desk& desk, const LoanSheetOptions& options);
absl::Status RunSplitSheet(const Desk& desk, const SplitSheetOptions& options);
absl::Status RunCheckLoanSheet(const Desk& desk, const CheckLoanSheetOptions& options);
absl::Status RunCheckSplitSheet(const Desk& desk, const CheckSplitSheetOptions& options);

// Adds `sheet` and `check` below the commands on loans, and below that on splits.
void AddLoanSheetCommands(Command& loan);
void AddSplitSheetCommands(Command& split);

}  // namespace broodpact::cli
