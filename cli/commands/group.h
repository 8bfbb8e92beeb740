#pragma once

// broodpact group name, split, merge, founders: names move, animals stay.

#include <string>
#include <vector>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct NameGroupOptions {
  std::string group{};
  std::string name{};
  std::string status{};  // accepted, synonym, new-combination, misapplied, trade-name
  std::string since{};
  std::string source{};
};
struct SplitGroupOptions {
  std::string group{};
  std::string into{};
  std::vector<std::string> animals{};
  std::string taxon{};  // empty: as the group's
  std::string locality{};
  std::string line{};
  std::string reason{};
};
struct GroupFoundersOptions {
  std::string group{};
  std::string kinship{};  // "1/8", or "0"
  std::string reason{};
};
struct MergeGroupOptions {
  std::string group{};
  std::string into{};
  std::string reason{};
};

absl::Status RunNameGroup(const Desk& desk, const NameGroupOptions& options);
absl::Status RunSplitGroup(const Desk& desk, const SplitGroupOptions& options);
absl::Status RunGroupFounders(const Desk& desk, const GroupFoundersOptions& options);
absl::Status RunMergeGroup(const Desk& desk, const MergeGroupOptions& options);

// Adds the four below `group`.
void AddGroupNameCommands(Command& group);

}  // namespace broodpact::cli
