#pragma once

// broodpact motion list, sign; keeper role, quit: roles, and what several keepers decide.

#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct ListMotionsOptions {
  bool all = false;
};
struct SignMotionOptions {
  std::string motion{};
};
struct RoleOptions {
  std::string keeper{};
  std::string role{};
  std::string reason{};
};
struct QuitOptions {
  std::string reason{};
  bool yes = false;
};

absl::Status RunListMotions(const Desk& desk, const ListMotionsOptions& options);
absl::Status RunSignMotion(const Desk& desk, const SignMotionOptions& options);
absl::Status RunRole(const Desk& desk, const RoleOptions& options);
absl::Status RunQuit(const Desk& desk, const QuitOptions& options);

void AddMotionCommands(Command& root);
// `role` and `quit`, below `keeper`.
void AddRoleCommands(Command& keeper);

}  // namespace broodpact::cli
