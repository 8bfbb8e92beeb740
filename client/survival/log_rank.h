#pragma once

// Whether two groups of lives differ: the log-rank test, and so whether a group may be read
// together with the rest of its genus.
//
// Method: at each age of a death, the deaths expected in the first group are its share of those at
// risk; the variance is hypergeometric (Mantel, "Evaluation of survival data and two new rank order
// statistics", Cancer Chemother. Rep. 50 (1966) 163-170; Peto & Peto, 1972).
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <optional>
#include <span>

#include "client/survival/kaplan_meier.h"

namespace broodpact::survival {

struct LogRank {
  double first_observed = 0;  // deaths
  double first_expected = 0;
  double second_observed = 0;
  double second_expected = 0;
  double chi_square = 0;   // one degree of freedom
  double probability = 1;  // of so much difference, or more, if there is none
};

// Compares two groups. Nothing where they carry nothing: no death at which both were at risk.
std::optional<LogRank> LogRankOf(std::span<const Life> first, std::span<const Life> second);

}  // namespace broodpact::survival
