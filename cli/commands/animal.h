#pragma once

// broodpact animal: what is known about an animal, and what happens to it.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct AddAnimalOptions {
  std::string name{};
  std::string group{};
  std::string sex{};     // female, male, unknown; empty: unknown
  std::string method{};  // shed-skin, ventral, adult-form; empty: not said
  std::string hatched{};
  std::string mature{};
  std::string sire{};
  std::string dam{};
};
struct ListAnimalsOptions {
  std::string group{};
  std::string keeper{};
  bool mine = false;
  std::optional<std::uint32_t> limit{};
  std::string after{};
};
struct ShowAnimalOptions {
  std::string animal{};
};
struct MoultOptions {
  std::string animal{};
  std::string on{};
  std::optional<std::uint32_t> number{};
};
struct MaturedOptions {
  std::string animal{};
  std::string on{};
  std::string sex{};
};
struct SexedOptions {
  std::string animal{};
  std::string sex{};
  std::string method{};
  std::string on{};
};
struct DiedOptions {
  std::string animal{};
  std::string on{};
  std::string cause{};
};
struct GiveAnimalOptions {
  std::string animal{};
  std::string to{};
  bool with_due = false;
};

absl::Status RunAddAnimal(const Desk& desk, const AddAnimalOptions& options);
absl::Status RunListAnimals(const Desk& desk, const ListAnimalsOptions& options);
absl::Status RunShowAnimal(const Desk& desk, const ShowAnimalOptions& options);
absl::Status RunMoult(const Desk& desk, const MoultOptions& options);
absl::Status RunMatured(const Desk& desk, const MaturedOptions& options);
absl::Status RunSexed(const Desk& desk, const SexedOptions& options);
absl::Status RunDied(const Desk& desk, const DiedOptions& options);
absl::Status RunGiveAnimal(const Desk& desk, const GiveAnimalOptions& options);

void AddAnimalCommands(Command& root);

}  // namespace broodpact::cli
