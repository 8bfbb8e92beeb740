#include "client/survival/incidence.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>

namespace broodpact::survival {
namespace {

constexpr double kNormalQuantile = 1.959963984540054;

struct Times {
  std::vector<double> entries;
  std::vector<double> exits;
  // Time and outcome of what ended, in order.
  std::vector<std::pair<double, std::uint32_t>> ends;
};

Times TimesOf(std::span<const Course> cases, std::uint32_t outcomes) {
  Times times;
  for (const Course& one : cases) {
    if (!(one.exit > one.entry)) continue;
    times.entries.push_back(one.entry);
    times.exits.push_back(one.exit);
    if (one.outcome && *one.outcome < outcomes) times.ends.emplace_back(one.exit, *one.outcome);
  }
  std::ranges::sort(times.entries);
  std::ranges::sort(times.exits);
  std::ranges::sort(times.ends);
  return times;
}

std::uint32_t CountBelow(const std::vector<double>& times, double time) {
  return static_cast<std::uint32_t>(std::ranges::lower_bound(times, time) - times.begin());
}

// Sums over the steps so far from which the variance of one outcome follows at every later step:
// var F(t) = sum over s of [F(t) - F(s)]^2 a + S^2 b - 2 [F(t) - F(s)] S c, written out in powers
// of F(t), so that each step costs the same. a, b and c belong to the step s, S is the share open
// just before it.
struct VarianceSums {
  double a = 0, a_f = 0, a_ff = 0;
  double b = 0;
  double c = 0, c_f = 0;

  void Add(double share, double open_before, double at_risk, double ended, double ended_so) {
    const double left = at_risk - ended;
    // Where none is left, nothing changes after this step, and its first sum is multiplied by 0.
    const double of_all = left > 0 ? ended / (at_risk * left) : 0;
    a += of_all;
    a_f += of_all * share;
    a_ff += of_all * share * share;
    b +=
        open_before * open_before * (at_risk - ended_so) * ended_so / (at_risk * at_risk * at_risk);
    const double cross = open_before * ended_so / (at_risk * at_risk);
    c += cross;
    c_f += cross * share;
  }

  double At(double share) const {
    return std::max(0.0, share * share * a - 2 * share * a_f + a_ff + b - 2 * (share * c - c_f));
  }
};

void SetInterval(Incidence& incidence) {
  if (incidence.share <= 0 || incidence.share >= 1 || incidence.std_error <= 0) return;
  const double log_share = std::log(incidence.share);
  const double width = kNormalQuantile * incidence.std_error / (incidence.share * log_share);
  incidence.lower = std::exp(log_share * std::exp(-width));
  incidence.upper = std::exp(log_share * std::exp(width));
}

}  // namespace

Incidences FitAalenJohansen(std::span<const Course> cases, std::uint32_t outcomes) {
  const Times times = TimesOf(cases, outcomes);
  Incidences fit;
  fit.cases = static_cast<std::uint32_t>(times.exits.size());
  fit.ended.resize(outcomes);
  if (!times.exits.empty()) fit.seen_to = times.exits.back();

  double open = 1;
  std::vector<double> shares(outcomes);
  std::vector<VarianceSums> sums(outcomes);
  for (std::size_t i = 0; i < times.ends.size();) {
    Step step{.time = times.ends[i].first};
    step.ended.resize(outcomes);
    std::uint32_t ended = 0;
    for (; i < times.ends.size() && times.ends[i].first == step.time; ++i, ++ended) {
      ++step.ended[times.ends[i].second];
    }
    step.at_risk = CountBelow(times.entries, step.time) - CountBelow(times.exits, step.time);
    const double at_risk = step.at_risk;
    for (std::uint32_t k = 0; k < outcomes; ++k) {
      fit.ended[k] += step.ended[k];
      shares[k] += open * step.ended[k] / at_risk;
      sums[k].Add(shares[k], open, at_risk, ended, step.ended[k]);
      Incidence incidence{.share = shares[k], .std_error = std::sqrt(sums[k].At(shares[k]))};
      SetInterval(incidence);
      step.outcomes.push_back(incidence);
    }
    open *= (at_risk - ended) / at_risk;
    step.open = open;
    fit.steps.push_back(std::move(step));
  }
  return fit;
}

Incidence Incidences::At(std::uint32_t outcome, double time) const {
  const auto after = std::ranges::upper_bound(steps, time, {}, &Step::time);
  return after == steps.begin() ? Incidence{} : std::prev(after)->outcomes[outcome];
}

}  // namespace broodpact::survival
