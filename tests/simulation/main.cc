// As many simulated histories as one likes.
//
//   simulation --histories 1000 --seed 1        runs seeds 1 .. 1000
//   simulation --seed 17 --histories 1 --trace  tells one of them, step by step
//   --actions 3,7,9                             only these of its actions happen
//   --plant server-forgets                      with a fault planted on purpose
//
// Exit code 0: no violation; 1: one, with the command that replays it and a shrunken history.

#include <chrono>
#include <cstdint>
#include <iostream>
#include <string>
#include <vector>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "tests/simulation/simulation.h"

namespace broodpact::simulation {
namespace {

// A long run says now and then how far it has come.
constexpr std::uint64_t kHistoriesAReport = 1'000;

struct Wanted {
  std::uint64_t histories = 500;
  std::uint64_t seed = 1;
  bool trace = false;
  std::uint64_t failures_max = 10;
  std::vector<std::size_t> actions;
  Planted planted = Planted::kNone;
};

void Report(const Course& course, const Outcome& outcome) {
  std::cout << fmt::format("seed {}: {}\n", course.seed, CommandOf(course));
  for (const std::string& violation : outcome.violations) std::cout << "  " << violation << '\n';
  std::cout.flush();
}

int RunAll(const Wanted& wanted) {
  std::uint64_t arrivals = 0;
  std::uint64_t failures = 0;
  const auto begin = std::chrono::steady_clock::now();
  for (std::uint64_t i = 0; i < wanted.histories; ++i) {
    Course course{.seed = wanted.seed + i, .actions = {}, .planted = wanted.planted};
    if (!wanted.actions.empty()) course.actions = wanted.actions;
    if (i > 0 && i % kHistoriesAReport == 0) {
      std::cout << fmt::format("seeds {} to {}: {} violated\n", wanted.seed, wanted.seed + i - 1,
                               failures)
                << std::flush;
    }
    const Outcome outcome = Run(course, wanted.trace ? &std::cout : nullptr);
    arrivals += outcome.arrivals;
    if (outcome.violations.empty()) continue;
    Report(course, outcome);
    if (++failures >= wanted.failures_max) break;
    if (failures == 1 && !wanted.trace) {
      const Course shrunken = Shrunken(course);
      std::cout << "shrunken:\n" << StepsOf(shrunken) << CommandOf(shrunken) << '\n';
    }
  }
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
  std::cout << fmt::format("{} histories from seed {}, {} arrivals, {} violated, {:.1f} s\n",
                           wanted.histories, wanted.seed, arrivals, failures, took.count());
  return failures == 0 ? 0 : 1;
}

}  // namespace
}  // namespace broodpact::simulation

int main(int argc, char** argv) {
  broodpact::simulation::Wanted wanted;
  std::string planted = "none";
  CLI::App app("Simulated histories of a cooperative, with every fault that it has to survive");
  app.add_option("--histories", wanted.histories, "how many, one a seed");
  app.add_option("--seed", wanted.seed, "the first seed");
  app.add_option("--failures", wanted.failures_max, "how many end the run");
  app.add_flag("--trace", wanted.trace, "tell every step");
  app.add_option("--actions", wanted.actions, "numbers of the actions that happen; all if left out")
      ->delimiter(',');
  app.add_option("--plant", planted, "a fault that is planted on purpose");
  CLI11_PARSE(app, argc, argv);
  for (const auto& [kind, name] : broodpact::simulation::kPlantedNames) {
    if (name == planted) wanted.planted = kind;
  }
  return broodpact::simulation::RunAll(wanted);
}
