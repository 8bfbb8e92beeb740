// Goal: whatever keepers, machines and the network do, the invariants of the design hold once
// faults have stopped; and a fault in the program would be found. Method: seeded histories of the
// real replica, server and protocol under one scheduler; then the same with faults planted on
// purpose.

#include "tests/simulation/simulation.h"

#include <algorithm>
#include <sstream>

#include <gtest/gtest.h>

namespace broodpact::simulation {
namespace {

// A part of the 500 histories, so that parts run side by side.
class Histories : public ::testing::TestWithParam<std::uint64_t> {};

constexpr std::uint64_t kHistoriesPerPart = 64;

TEST_P(Histories, KeepAllInvariants) {
  for (std::uint64_t i = 0; i < kHistoriesPerPart; ++i) {
    const Course course{.seed = GetParam() * kHistoriesPerPart + i + 1};
    const Outcome outcome = simulation::Run(course);
    if (outcome.violations.empty()) continue;
    const Course shrunken = Shrunken(course);
    ADD_FAILURE() << CommandOf(course) << '\n'
                  << outcome.violations.front() << "\nshrunken:\n"
                  << StepsOf(shrunken) << CommandOf(shrunken);
    return;
  }
}

INSTANTIATE_TEST_SUITE_P(Part, Histories, ::testing::Range<std::uint64_t>(0, 8));

TEST(Simulation, TellsTheSameHistoryForTheSameSeed) {
  for (const std::uint64_t seed : {3U, 17U, 40U}) {
    std::ostringstream first;
    std::ostringstream second;
    simulation::Run({.seed = seed}, &first);
    simulation::Run({.seed = seed}, &second);
    EXPECT_EQ(first.str(), second.str()) << seed;
  }
}

TEST(Simulation, ShrinksAFailingHistory) {
  // What is planted shows at the end, so no action is needed for it.
  const Course failing{.seed = 1, .planted = Planted::kIndexEntryLost};
  EXPECT_TRUE(Shrunken(failing).actions->empty());
}

struct Finding {
  Planted planted;
  std::uint64_t histories;  // within so many it must be found
  std::string invariant;    // by this one; empty: by any

  friend void PrintTo(const Finding& finding, std::ostream* out) {
    *out << "within " << finding.histories << " histories";
  }
};

class Finds : public ::testing::TestWithParam<Finding> {};

TEST_P(Finds, WhatIsPlanted) {
  const Finding& finding = GetParam();
  for (std::uint64_t seed = 1; seed <= finding.histories; ++seed) {
    const Outcome outcome = simulation::Run({.seed = seed, .planted = finding.planted});
    const bool found = std::ranges::any_of(outcome.violations, [&](const std::string& violation) {
      return violation.starts_with(finding.invariant);
    });
    if (found) return;
  }
  FAIL() << "not found in " << finding.histories << " histories";
}

std::string NameOf(const ::testing::TestParamInfo<Finding>& info) {
  std::string name;
  for (const auto& [kind, text] : kPlantedNames) {
    if (kind == info.param.planted) name = text;
  }
  std::ranges::replace(name, '-', '_');
  return name;
}

INSTANTIATE_TEST_SUITE_P(A, Finds,
                         ::testing::Values(Finding{Planted::kServerForgets, 40, "Liveness"},
                                           Finding{Planted::kServerDiskLies, 40, "Liveness"},
                                           Finding{Planted::kKeeperDiskLies, 40, ""},
                                           Finding{Planted::kDoorOpen, 10, ""},
                                           Finding{Planted::kArrivalSkipped, 3, "Convergence"},
                                           Finding{Planted::kFoldSwapped, 10, "Convergence"},
                                           Finding{Planted::kRangesSwapped, 20, ""},
                                           Finding{Planted::kRangesLost, 10, "Liveness"},
                                           Finding{Planted::kPendingForgotten, 40, "NothingLost"},
                                           Finding{Planted::kFirstTimesForgotten, 40, "DaysKept"},
                                           Finding{Planted::kVerdictChanged, 10, "Finality"},
                                           Finding{Planted::kIndexEntryLost, 3, "Indexes"},
                                           Finding{Planted::kSlingCreated, 80, "Conservation"},
                                           Finding{Planted::kOwnershipDoubled, 10, "Convergence"},
                                           Finding{Planted::kCountedTwice, 1, "CountsOnce"}),
                         NameOf);

}  // namespace
}  // namespace broodpact::simulation
