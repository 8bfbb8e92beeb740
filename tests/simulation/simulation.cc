#include "tests/simulation/simulation.h"

#include <algorithm>
#include <numeric>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "tests/simulation/invariants.h"
#include "tests/simulation/world.h"

namespace broodpact::simulation {
namespace {

std::vector<std::size_t> NumbersOf(const Course& course) {
  if (course.actions) return *course.actions;
  std::vector<std::size_t> all(ActionsOf(course.seed).size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  return all;
}

// The name of the first invariant that was violated.
std::string NameOf(const Outcome& outcome) {
  if (outcome.violations.empty()) return {};
  return outcome.violations.front().substr(0, outcome.violations.front().find(':'));
}

std::string_view NameOf(Planted planted) {
  for (const auto& [kind, name] : kPlantedNames) {
    if (kind == planted) return name;
  }
  return "none";
}

}  // namespace

Outcome Run(const Course& course, std::ostream* trace) {
  World world(course.seed, course.planted, trace);
  world.SetUp();
  const std::vector<Action> actions = ActionsOf(course.seed);
  for (const std::size_t number : NumbersOf(course)) {
    if (number < actions.size()) world.Do(number, actions[number]);
  }
  world.Settle();
  Outcome outcome;
  outcome.keepers = world.keepers().size();
  if (!world.server().runs()) {
    outcome.violations.emplace_back("Liveness: the server cannot start again");
    return outcome;
  }
  for (const Invariant& invariant : AllInvariants()) {
    for (const std::string& violation : invariant.check(world)) {
      outcome.violations.push_back(fmt::format("{}: {}", invariant.name, violation));
      world.Tell("{}", outcome.violations.back());
    }
  }
  outcome.arrivals = world.server().store().point().arrivals;
  return outcome;
}

Course Shrunken(const Course& failing) {
  std::vector<std::size_t> best = NumbersOf(failing);
  const auto with = [&](const std::vector<std::size_t>& actions) {
    return Course{.seed = failing.seed, .actions = actions, .planted = failing.planted};
  };
  const std::string name = NameOf(Run(with(best)));
  for (std::size_t piece = best.size() / 2; piece > 0; piece /= 2) {
    for (std::size_t begin = 0; begin < best.size();) {
      std::vector<std::size_t> shorter = best;
      const std::size_t end = std::min(begin + piece, shorter.size());
      shorter.erase(shorter.begin() + static_cast<std::ptrdiff_t>(begin),
                    shorter.begin() + static_cast<std::ptrdiff_t>(end));
      if (NameOf(Run(with(shorter))) == name) {
        best = std::move(shorter);
      } else {
        begin += piece;
      }
    }
  }
  return with(best);
}

std::string CommandOf(const Course& course) {
  std::string command = fmt::format("simulation --seed {} --histories 1 --trace", course.seed);
  if (course.planted != Planted::kNone) {
    command += fmt::format(" --plant {}", NameOf(course.planted));
  }
  if (course.actions) command += fmt::format(" --actions {}", fmt::join(*course.actions, ","));
  return command;
}

std::string StepsOf(const Course& course) {
  const std::vector<Action> actions = ActionsOf(course.seed);
  std::string steps;
  for (const std::size_t number : NumbersOf(course)) {
    if (number >= actions.size()) continue;
    steps += fmt::format("  {} {}\n", number, NameOf(actions[number].kind));
  }
  return steps;
}

}  // namespace broodpact::simulation
