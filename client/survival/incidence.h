#pragma once

// What came of it, and by when: the share of pairings that led to each of several outcomes that
// exclude each other, while others are still open.
//
// Method: Aalen & Johansen, "An empirical transition matrix for non-homogeneous Markov chains based
// on censored observations", Scand. J. Stat. 5 (1978) 141-150. Variance by the delta method, which
// is Greenwood's with one cause (Marubini & Valsecchi, Analysing Survival Data from Clinical Trials
// and Observational Studies, 1995, section 10.2); intervals log-log. To count the other outcomes as
// lost from sight, and fit Kaplan-Meier to each, would make every outcome look too likely.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace broodpact::survival {

// One case, in days since its beginning: at risk at every time above entry and up to exit. Cases
// with exit <= entry carry nothing and are left out.
struct Course {
  double entry = 0;
  double exit = 0;
  // What ended it: a number below the count of outcomes; nothing: still open, lost from sight.
  std::optional<std::uint32_t> outcome{};
};

// One outcome at one time.
struct Incidence {
  double share = 0;  // that has come to it, 0 .. 1
  double std_error = 0;
  double lower = 0;  // 95 % interval, log-log; 0 .. 1 where the data carry none
  double upper = 1;
};

// The state of things just after one time at which something ended.
struct Step {
  double time = 0;
  std::uint32_t at_risk = 0;
  std::vector<std::uint32_t> ended{};  // here, by outcome
  double open = 1;                     // the share to which nothing has happened
  std::vector<Incidence> outcomes{};   // by outcome; with `open` they add up to 1
};

struct Incidences {
  std::vector<Step> steps{};  // by time
  std::uint32_t cases = 0;
  std::vector<std::uint32_t> ended{};  // in all, by outcome
  double seen_to = 0;

  // What is known at `time`: of the last step up to it. Zeros before the first.
  Incidence At(std::uint32_t outcome, double time) const;
};

// Fits the incidences of `outcomes` (1 at least) outcomes. Numbers past the end count as open. The
// order of the cases does not matter.
Incidences FitAalenJohansen(std::span<const Course> cases, std::uint32_t outcomes);

}  // namespace broodpact::survival
