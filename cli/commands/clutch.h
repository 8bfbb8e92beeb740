#pragma once

// broodpact pair, sac, count, split: from the pairing to who gets how many slings.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct PairOptions {
  std::string male{};
  std::string female{};
  std::string on{};
  std::string outcome{};  // seen, refused, eaten; empty: not said
  std::string loan{};     // empty: the male's loan in force
  bool no_loan = false;
  bool hybrid = false;
};
struct SacLaidOptions {
  std::string female{};
  std::string on{};
  std::string name{};
  std::string loan{};  // empty: the loan of her pairings
  bool no_loan = false;
};
struct SacPulledOptions {
  std::string clutch{};
  std::string on{};
};
struct SacLostOptions {
  std::string clutch{};
  std::string on{};
  std::string cause{};
};
struct ListSacsOptions {};
struct ShowSacOptions {
  std::string clutch{};
};
struct CountOptions {
  std::string clutch{};
  std::optional<std::uint32_t> living{};
  std::optional<std::uint32_t> dead{};
  std::optional<std::uint32_t> total{};
  std::optional<std::uint32_t> moults{};
  std::string on{};
  std::string replaces{};  // a token in hexadecimal
  bool again = false;      // replaces the count that stands
};
struct SplitOptions {
  std::string clutch{};
  bool preview = false;
  bool picking = false;                  // the order in which slings are picked
  std::optional<std::uint32_t> count{};  // what if so many were counted; with preview only
  std::string method{};                  // what if by this method; with preview or curve only
  std::string carry{};                   // what if remainders carried over so; the same
  std::string curve{};                   // sizes: what each would get of them
  std::string svg{};                     // the file that the curve is drawn into
};
struct WitnessOptions {
  std::string clutch{};
  std::string on{};
};

absl::Status RunPair(const Desk& desk, const PairOptions& options);
absl::Status RunSacLaid(const Desk& desk, const SacLaidOptions& options);
absl::Status RunSacPulled(const Desk& desk, const SacPulledOptions& options);
absl::Status RunSacLost(const Desk& desk, const SacLostOptions& options);
absl::Status RunListSacs(const Desk& desk, const ListSacsOptions& options);
absl::Status RunShowSac(const Desk& desk, const ShowSacOptions& options);
absl::Status RunCount(const Desk& desk, const CountOptions& options);
absl::Status RunSplit(const Desk& desk, const SplitOptions& options);
absl::Status RunWitness(const Desk& desk, const WitnessOptions& options);

void AddClutchCommands(Command& root);

}  // namespace broodpact::cli
