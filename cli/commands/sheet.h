#pragma once

// broodpact loan sheet, loan check, split sheet, split check: sheets to print, and whether a sheet
// says what the registry says.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct LoanSheetOptions {
  std::string loan{};
  std::string out{};
  std::string curve{};  // sizes; empty: 0..200
};
struct SplitSheetOptions {
  std::string clutch{};
  std::string out{};
};
struct CheckSheetOptions {
  std::string sheet{};
};

absl::Status RunLoanSheet(const Desk& desk, const LoanSheetOptions& options);
absl::Status RunSplitSheet(const Desk& desk, const SplitSheetOptions& options);
absl::Status RunCheckLoanSheet(const Desk& desk, const CheckSheetOptions& options);
absl::Status RunCheckSplitSheet(const Desk& desk, const CheckSheetOptions& options);

void AddLoanSheetCommands(Command& loan);
void AddSplitSheetCommands(Command& split);

}  // namespace broodpact::cli
