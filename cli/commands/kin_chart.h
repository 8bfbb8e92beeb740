#pragma once

// broodpact kin chart: an animal's pedigree, drawn.

#include <cstdint>
#include <optional>
#include <string>

#include "absl/status/status.h"

#include "cli/desk.h"
#include "cli/grammar/command.h"

namespace broodpact::cli {

struct KinChartOptions {
  std::string animal{};
  std::string svg{};
  std::optional<std::uint32_t> generations{};
};

// Errors: those of ChartOf and WriteText.
absl::Status RunKinChart(const Desk& desk, const KinChartOptions& options);

// Adds `chart` below `kin`.
void AddKinChartCommand(Command& kin);

}  // namespace broodpact::cli
