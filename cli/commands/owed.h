#pragma once

// broodpact owed: what keepers owe each other, across loans and clutches.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct OwedOptions {
  std::string keeper{};  // empty: oneself
  std::string with{};    // empty: everybody
  std::string on{};
  bool overdue = false;
};

absl::Status RunOwed(const Desk& desk, const OwedOptions& options);

void AddOwedCommand(Command& root);

}  // namespace broodpact::cli
