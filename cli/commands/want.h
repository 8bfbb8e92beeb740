#pragma once

// broodpact want: what keepers are looking for.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct AddWantOptions {
  std::string group{};
  std::string what{};
  std::optional<std::uint32_t> count{};
  std::string until{};
  std::string note{};
};
struct EndWantOptions {
  std::string want{};
};
struct ListWantsOptions {};

absl::Status RunAddWant(const Desk& desk, const AddWantOptions& options);
absl::Status RunEndWant(const Desk& desk, const EndWantOptions& options);
absl::Status RunListWants(const Desk& desk, const ListWantsOptions& options);

void AddWantCommands(Command& root);

}  // namespace broodpact::cli
