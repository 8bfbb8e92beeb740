#pragma once

// broodpact sealed: texts that only some may read.

#include <string>
#include <vector>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct WriteSealedOptions {
  std::string subject{};
  std::string text{};
  std::string field{};
  std::string kind{};
  std::vector<std::string> readers{};
  std::string until{};
};
struct ShareSealedOptions {
  std::string subject{};
  std::string field{};
  std::string kind{};
  std::vector<std::string> readers{};
  std::string until{};
};
struct WithdrawSealedOptions {
  std::string subject{};
  std::string field{};
  std::string kind{};
};
struct ShowSealedOptions {
  std::string subject{};
  std::string kind{};
};
struct ListSealedOptions {};

absl::Status RunWriteSealed(const Desk& desk, const WriteSealedOptions& options);
absl::Status RunShareSealed(const Desk& desk, const ShareSealedOptions& options);
absl::Status RunWithdrawSealed(const Desk& desk, const WithdrawSealedOptions& options);
absl::Status RunShowSealed(const Desk& desk, const ShowSealedOptions& options);
absl::Status RunListSealed(const Desk& desk, const ListSealedOptions& options);

void AddSealedCommands(Command& root);

// sealed_help.cc: what they take.
void DescribeWriteSealed(Command& command, WriteSealedOptions& options);
void DescribeShareSealed(Command& command, ShareSealedOptions& options);
void DescribeWithdrawSealed(Command& command, WithdrawSealedOptions& options);
void DescribeShowSealed(Command& command, ShowSealedOptions& options);
void DescribeListSealed(Command& command, ListSealedOptions& options);

}  // namespace broodpact::cli
