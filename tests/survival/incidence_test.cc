// Goal: outcomes that exclude each other have the incidences of R, with a variance that is right
// where it can be known otherwise. Method: the published case; two cases in which the variance has
// a closed form (nothing lost from sight: that of a share; one outcome: Greenwood's); laws; edges.
//
// Source: R 4.2.2, survival 3.5.3 (survfit of several states); tests/published/survival.

#include "client/survival/incidence.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <random>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/survival/kaplan_meier.h"
#include <nlohmann/json.hpp>

namespace broodpact::survival {
namespace {

using ::testing::IsEmpty;
using ::testing::SizeIs;
using Json = nlohmann::json;

constexpr double kIncidenceTolerance = 1e-10;

TEST(AalenJohansen, MeetsThePublishedCase) {
  std::ifstream file(std::string(BROODPACT_PUBLISHED) + "/survival/competing_risks.json");
  const Json one = Json::parse(file).at("cases")[0];
  std::vector<Course> cases;
  for (std::size_t i = 0; i < one.at("time").size(); ++i) {
    Course course{.exit = one.at("time")[i].get<double>()};
    const auto event = one.at("event")[i].get<std::uint32_t>();
    if (event > 0) course.outcome = event - 1;
    cases.push_back(course);
  }
  const Incidences fit = FitAalenJohansen(cases, 2);
  const Json& at = one.at("at");
  ASSERT_THAT(fit.steps, SizeIs(at.at("time").size()));
  for (std::size_t i = 0; i < fit.steps.size(); ++i) {
    const Step& step = fit.steps[i];
    EXPECT_EQ(step.time, at.at("time")[i].get<double>());
    EXPECT_NEAR(step.outcomes[0].share, at.at("cif1")[i].get<double>(), kIncidenceTolerance);
    EXPECT_NEAR(step.outcomes[1].share, at.at("cif2")[i].get<double>(), kIncidenceTolerance);
    EXPECT_NEAR(step.open, at.at("event_free")[i].get<double>(), kIncidenceTolerance);
  }
  EXPECT_EQ(fit.cases, 12U);
  EXPECT_THAT(fit.ended, ::testing::ElementsAre(6U, 2U));
}

rc::Gen<std::vector<Course>> AnyCases() {
  return rc::gen::container<std::vector<Course>>(rc::gen::exec([] {
    return Course{
        .entry = *rc::gen::element<double>(0, 0, 0, 2),
        .exit = *rc::gen::inRange(0, 8) * 1.0,
        .outcome = *rc::gen::element<std::optional<std::uint32_t>>(std::nullopt, 0, 1, 2)};
  }));
}

RC_GTEST_PROP(AalenJohansen, AddsUpToOneAtEveryTime, ()) {
  const Incidences fit = FitAalenJohansen(*AnyCases(), 3);
  for (const Step& step : fit.steps) {
    double sum = step.open;
    for (const Incidence& incidence : step.outcomes) {
      sum += incidence.share;
      RC_ASSERT(incidence.lower <= incidence.share + 1e-12);
      RC_ASSERT(incidence.share <= incidence.upper + 1e-12);
    }
    RC_ASSERT(std::abs(sum - 1) < 1e-12);
  }
}

// Without anything lost from sight an incidence is a plain share, and its variance p (1 - p) / n.
RC_GTEST_PROP(AalenJohansen, IsAPlainShareWhereNothingIsLostFromSight, ()) {
  auto cases = *AnyCases();
  for (Course& one : cases) {
    one.entry = 0;
    one.exit += 1;
    one.outcome = one.outcome.value_or(0);
  }
  const Incidences fit = FitAalenJohansen(cases, 3);
  const auto n = static_cast<double>(cases.size());
  for (const Step& step : fit.steps) {
    for (std::uint32_t k = 0; k < 3; ++k) {
      const auto so_far = std::ranges::count_if(
          cases, [&](const Course& one) { return one.exit <= step.time && one.outcome == k; });
      const double share = static_cast<double>(so_far) / n;
      RC_ASSERT(std::abs(step.outcomes[k].share - share) < 1e-12);
      RC_ASSERT(std::abs(std::pow(step.outcomes[k].std_error, 2) - share * (1 - share) / n) <
                1e-12);
    }
  }
}

// With one outcome the share that has come to it is what Kaplan-Meier leaves, and the variance is
// Greenwood's.
RC_GTEST_PROP(AalenJohansen, IsKaplanMeierWithOneOutcome, ()) {
  auto cases = *AnyCases();
  std::vector<Life> lives;
  for (Course& one : cases) {
    if (one.outcome) one.outcome = 0;
    lives.push_back({.entry = one.entry,
                     .exit = one.exit,
                     .ending = one.outcome ? Ending::kDied : Ending::kStillAlive});
  }
  const Incidences fit = FitAalenJohansen(cases, 1);
  const Curve curve = FitKaplanMeier(lives);
  RC_ASSERT(fit.steps.size() == curve.points.size());
  for (std::size_t i = 0; i < fit.steps.size(); ++i) {
    const Incidence& incidence = fit.steps[i].outcomes[0];
    RC_ASSERT(fit.steps[i].at_risk == curve.points[i].at_risk);
    RC_ASSERT(std::abs(1 - incidence.share - curve.points[i].alive) < 1e-12);
    if (curve.points[i].alive > 0) {
      RC_ASSERT(std::abs(incidence.std_error - curve.points[i].std_error) < 1e-7);
    }
  }
}

RC_GTEST_PROP(AalenJohansen, DoesNotDependOnTheOrderOfTheCases, ()) {
  auto cases = *AnyCases();
  const Incidences before = FitAalenJohansen(cases, 3);
  std::ranges::shuffle(cases, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  const Incidences after = FitAalenJohansen(cases, 3);
  for (const double time : {0.0, 1.0, 3.0, 7.0}) {
    for (std::uint32_t k = 0; k < 3; ++k) {
      RC_ASSERT(before.At(k, time).share == after.At(k, time).share);
    }
  }
}

TEST(AalenJohansen, OfNothingHasNoSteps) {
  const Incidences none = FitAalenJohansen({}, 2);
  EXPECT_THAT(none.steps, IsEmpty());
  EXPECT_EQ(none.cases, 0U);
  EXPECT_EQ(none.At(1, 100).share, 0);
  EXPECT_EQ(none.At(1, 100).upper, 1);
}

TEST(AalenJohansen, ShowsNoIntervalWhereAllAreOpenOrAllEnded) {
  const Incidences open = FitAalenJohansen(std::vector<Course>{{.exit = 5}, {.exit = 9}}, 2);
  EXPECT_THAT(open.steps, IsEmpty());
  EXPECT_EQ(open.cases, 2U);
  const Incidences one = FitAalenJohansen(std::vector<Course>{{.exit = 5, .outcome = 1}}, 2);
  EXPECT_EQ(one.At(1, 5).share, 1);
  EXPECT_EQ(one.At(1, 5).lower, 0);
  EXPECT_EQ(one.At(1, 5).upper, 1);
}

}  // namespace
}  // namespace broodpact::survival
