#pragma once

// The pedigree of one animal as a chart: its ancestors, each once however many lines lead to it,
// its clutch-mates as one node, its mates and its clutches.

#include <cstdint>

#include "absl/status/statusor.h"

#include "broodpact/v1/kin_chart.pb.h"
#include "client/replica/view.h"

namespace broodpact::replica {

inline constexpr std::uint32_t kChartGenerationsMax = 12;
inline constexpr std::uint32_t kChartGenerations = 5;  // unless asked for otherwise
inline constexpr std::size_t kChartNodesMax = 500;     // what a page can hold

// Ancestors up to `generations` back, at most kChartGenerationsMax.
//
// Errors: NOT_FOUND with reason UNKNOWN_SUBJECT; INVALID_ARGUMENT with reason PEDIGREE_CYCLE,
// naming the animals; those of the source.
absl::StatusOr<v1::KinChart> ChartOf(const View& view, const AnimalId& animal,
                                     std::uint32_t generations);

}  // namespace broodpact::replica
