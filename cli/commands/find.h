#pragma once

// broodpact find, broodpact kin: whom to pair, and who is kin.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct FindMaleOptions {
  std::string for_female{};
  std::string group{};
  std::string on{};
  std::string inbreeding_max{};
  std::optional<std::uint32_t> left_days_min{};
  std::optional<std::uint32_t> distance_max{};
  std::optional<std::uint32_t> pairings_max{};
  std::optional<std::uint32_t> mature_days_max{};
  std::string gain_min{};
  bool free = false;
  bool within_borders = false;
  std::vector<std::string> ignored{};
  bool why = false;
  std::optional<std::uint32_t> limit{};
};
struct FindHomeOptions {
  std::string group{};
  std::optional<std::uint32_t> distance_max{};
  std::optional<std::uint32_t> slings_min{};
  bool within_borders = false;
  std::vector<std::string> ignored{};
  bool why = false;
  std::optional<std::uint32_t> limit{};
};
struct FindFemaleOptions {
  std::string for_male{};
  std::string group{};
  std::string on{};
  std::string inbreeding_max{};
  std::optional<std::uint32_t> distance_max{};
  std::optional<std::uint32_t> moult_days_max{};
  std::string gain_min{};
  bool free = false;
  bool ready = false;
  bool within_borders = false;
  std::vector<std::string> ignored{};
  bool why = false;
  std::optional<std::uint32_t> limit{};
};
struct KinOptions {
  std::string first{};
  std::string second{};
};

// Errors: NOT_FOUND with reason NO_MATCH (the empty list is printed all the same); those of
// View::FindMales.
absl::Status RunFindMale(const Desk& desk, const FindMaleOptions& options);
absl::Status RunFindFemale(const Desk& desk, const FindFemaleOptions& options);
absl::Status RunFindHome(const Desk& desk, const FindHomeOptions& options);
absl::Status RunKin(const Desk& desk, const KinOptions& options);

void AddFindCommands(Command& root);

}  // namespace broodpact::cli
