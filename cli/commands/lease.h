#pragma once

// broodpact lease take, release: what this device alone may spend for a while.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct TakeLeaseOptions {
  std::string animal{};
  std::string lot{};
  std::optional<std::uint32_t> slings{};
  std::string until{};
};
struct ReleaseLeaseOptions {
  std::string animal{};
  std::string lot{};
};

absl::Status RunTakeLease(const Desk& desk, const TakeLeaseOptions& options);
absl::Status RunReleaseLease(const Desk& desk, const ReleaseLeaseOptions& options);

void AddLeaseCommands(Command& root);

}  // namespace broodpact::cli
