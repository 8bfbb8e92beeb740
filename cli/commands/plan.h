#pragma once

// broodpact plan, broodpact veto: which males to which females, and what keepers keep out of it.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct PlanOptions {
  std::string group{};
  std::string on{};
  std::string inbreeding_max{};
  std::optional<std::uint32_t> distance_max{};
  std::optional<std::uint32_t> per_male{};
  std::optional<std::uint32_t> turn_days{};
  bool offer = false;
  std::string until{};
  bool yes = false;
};
struct VetoOptions {
  std::string animal{};
  std::string with_animal{};
  std::string with_keeper{};
};
struct ListVetoesOptions {};

// A number from 0 to 1 as an option has it; nothing where it is empty.
// Errors: INVALID_ARGUMENT with reason USAGE.
absl::StatusOr<std::optional<double>> InbreedingOf(const std::string& text);

// Errors: NOT_FOUND with reason NO_PLAN (the plan without pairs is printed all the same), or
// NOTHING_TO_OFFER; NOT_CONFIRMED; those of View::Plan.
absl::Status RunPlan(const Desk& desk, const PlanOptions& options);
absl::Status RunAddVeto(const Desk& desk, const VetoOptions& options);
absl::Status RunLiftVeto(const Desk& desk, const VetoOptions& options);
absl::Status RunListVetoes(const Desk& desk, const ListVetoesOptions& options);

void AddPlanCommands(Command& root);

}  // namespace broodpact::cli
