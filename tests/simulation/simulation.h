#pragma once

// One simulated history from its beginning to its verdict, and what to do with one that fails.

#include <cstdint>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "tests/simulation/history.h"
#include "tests/simulation/planted.h"

namespace broodpact::simulation {

struct Course {
  std::uint64_t seed = 1;
  std::optional<std::vector<std::size_t>> actions{};  // numbers of those that happen; nothing: all
  Planted planted = Planted::kNone;
};

// What became of a history.
struct Outcome {
  std::vector<std::string> violations;  // "Invariant: sentence"; empty: all is well
  std::uint64_t arrivals = 0;
  std::uint64_t keepers = 0;
};

// Runs a history. `trace`, if any, gets every step as a line.
Outcome Run(const Course& course, std::ostream* trace = nullptr);

// The same history with as few actions as still fail with the same invariant: drops halves, then
// quarters, down to single actions, as long as that helps (the idea of delta debugging: Zeller &
// Hildebrandt, 2002).
Course Shrunken(const Course& failing);

// The command that runs it again.
std::string CommandOf(const Course& course);

// Its actions, one a line.
std::string StepsOf(const Course& course);

}  // namespace broodpact::simulation
