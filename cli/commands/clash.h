#pragma once

// broodpact object, broodpact clash: what keepers disagree on, and how it ends.

#include <string>
#include <vector>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct ObjectOptions {
  std::string clutch{};
  std::string to{};     // count or split; empty: count
  std::string count{};  // a token in hexadecimal; empty: the count that stands
  std::string reason{};
  std::string on{};
};
struct ShowClashOptions {
  std::string clash{};
};
struct SettleClashOptions {
  std::string clash{};
  std::string words{};
  std::string count{};                // a keeper whose count it is, or a token
  std::vector<std::string> shares{};  // "mira=40"
  std::vector<std::string> awards{};  // "mira=4@f3kq"
};
struct SignClashOptions {
  std::string clash{};
  std::string settlement{};  // a token in hexadecimal; empty: the last one
};
struct WithdrawClashOptions {
  std::string clash{};
  std::string reason{};
};

absl::Status RunObject(const Desk& desk, const ObjectOptions& options);
absl::Status RunShowClash(const Desk& desk, const ShowClashOptions& options);
absl::Status RunSettleClash(const Desk& desk, const SettleClashOptions& options);
absl::Status RunSignClash(const Desk& desk, const SignClashOptions& options);
absl::Status RunWithdrawClash(const Desk& desk, const WithdrawClashOptions& options);

void AddClashCommands(Command& root);

}  // namespace broodpact::cli
