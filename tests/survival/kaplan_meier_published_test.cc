// Goal: curves, errors, intervals and medians are those of R. Method: every case of
// tests/published/survival/kaplan_meier.json, to the tolerance that the file states.
//
// Source: R 4.2.2, survival 3.5.3, on data sets shipped with R packages (Freireich et al. 1963;
// Miller 1997; Loprinzi 1994; Hyde 1977, with late entry); in full in the "meta" of the file.

#include <fstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/survival/kaplan_meier.h"
#include "client/survival/time_left.h"
#include <nlohmann/json.hpp>

namespace broodpact::survival {
namespace {

using ::testing::SizeIs;
using Json = nlohmann::json;

constexpr double kPublishedTolerance = 1e-8;

std::vector<Json> Cases() {
  std::ifstream file(std::string(BROODPACT_PUBLISHED) + "/survival/kaplan_meier.json");
  return Json::parse(file).at("cases").get<std::vector<Json>>();
}

std::vector<Life> LivesOf(const Json& one) {
  std::vector<Life> lives;
  for (std::size_t i = 0; i < one.at("time").size(); ++i) {
    const bool died = one.at("status")[i].get<int>() == 1;
    lives.push_back({.entry = one.contains("entry") ? one.at("entry")[i].get<double>() : 0,
                     .exit = one.at("time")[i].get<double>(),
                     .ending = died ? Ending::kDied : Ending::kStillAlive});
  }
  return lives;
}

void ExpectPoint(const Point& point, const Json& at, std::size_t i) {
  EXPECT_EQ(point.age, at.at("time")[i].get<double>());
  EXPECT_EQ(point.at_risk, at.at("n_risk")[i].get<std::uint32_t>());
  EXPECT_EQ(point.deaths, at.at("n_event")[i].get<std::uint32_t>());
  EXPECT_NEAR(point.alive, at.at("surv")[i].get<double>(), kPublishedTolerance);
  if (at.at("se_greenwood")[i].is_null()) {
    // R says nothing once none is alive; so do we, as our contract puts it.
    EXPECT_EQ(point.alive, 0);
    EXPECT_EQ(point.std_error, 0);
    EXPECT_EQ(point.lower, 0);
    EXPECT_EQ(point.upper, 1);
    return;
  }
  const Json& interval = at.at("ci_loglog");
  EXPECT_NEAR(point.std_error, at.at("se_greenwood")[i].get<double>(), kPublishedTolerance);
  EXPECT_NEAR(point.lower, interval.at("lower")[i].get<double>(), kPublishedTolerance);
  EXPECT_NEAR(point.upper, interval.at("upper")[i].get<double>(), kPublishedTolerance);
}

TEST(PublishedKaplanMeier, MeetsEveryPointOfEveryCurve) {
  const auto cases = Cases();
  EXPECT_THAT(cases, SizeIs(6));
  for (const Json& one : cases) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const Curve curve = FitKaplanMeier(LivesOf(one));
    EXPECT_EQ(curve.lives, one.at("n").get<std::uint32_t>());
    EXPECT_EQ(curve.deaths, one.at("events").get<std::uint32_t>());
    const Json& at = one.at("at");
    ASSERT_THAT(curve.points, SizeIs(at.at("time").size()));
    for (std::size_t i = 0; i < curve.points.size(); ++i) ExpectPoint(curve.points[i], at, i);
  }
}

// The names of the scales in the file, for points and for quantiles.
struct NamedScale {
  Scale scale = Scale::kPlain;
  const char* at_points = "";
  const char* at_quantiles = "";
};
const std::vector<NamedScale> kScales{{Scale::kPlain, "ci_plain", "plain"},
                                      {Scale::kLog, "ci_log", "log"},
                                      {Scale::kLogLog, "ci_loglog", "log-log"}};

TEST(PublishedKaplanMeier, MeetsTheIntervalsOfEveryScale) {
  for (const Json& one : Cases()) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const Curve curve = FitKaplanMeier(LivesOf(one));
    for (const NamedScale& named : kScales) {
      const Json& interval = one.at("at").at(named.at_points);
      for (std::size_t i = 0; i < curve.points.size(); ++i) {
        if (interval.at("lower")[i].is_null()) continue;  // none alive: see ExpectPoint
        const Interval ours = IntervalOf(curve.points[i], named.scale);
        EXPECT_NEAR(ours.lower, interval.at("lower")[i].get<double>(), kPublishedTolerance)
            << named.at_points;
        EXPECT_NEAR(ours.upper, interval.at("upper")[i].get<double>(), kPublishedTolerance)
            << named.at_points;
      }
    }
  }
}

TEST(PublishedKaplanMeier, MeetsTheSummedHazard) {
  for (const Json& one : Cases()) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const Curve curve = FitKaplanMeier(LivesOf(one));
    for (std::size_t i = 0; i < curve.points.size(); ++i) {
      const Point& point = curve.points[i];
      EXPECT_NEAR(point.hazard, one.at("at").at("nelson_aalen")[i].get<double>(),
                  kPublishedTolerance);
      EXPECT_NEAR(point.hazard_std_error, one.at("at").at("nelson_aalen_se")[i].get<double>(),
                  kPublishedTolerance);
    }
  }
}

void ExpectAge(const std::optional<double>& age, const Json& expected) {
  if (expected.is_null()) {
    EXPECT_EQ(age, std::nullopt);
  } else {
    EXPECT_EQ(age, expected.get<double>());
  }
}

TEST(PublishedKaplanMeier, MeetsEveryQuantileWithItsInterval) {
  for (const Json& one : Cases()) {
    const Curve curve = FitKaplanMeier(LivesOf(one));
    for (const NamedScale& named : kScales) {
      SCOPED_TRACE(one.at("name").get<std::string>() + ", " + named.at_quantiles);
      const Json& expected = one.at("quantiles_25_50_75").at(named.at_quantiles);
      for (std::size_t i = 0; i < 3; ++i) {
        const Estimate ours = QuantileOf(curve, 0.25 * static_cast<double>(i + 1), named.scale);
        ExpectAge(ours.days, expected.at("q")[i]);
        ExpectAge(ours.lower, expected.at("lower")[i]);
        ExpectAge(ours.upper, expected.at("upper")[i]);
      }
    }
  }
}

TEST(PublishedKaplanMeier, MeetsEveryMeanUpToAnAge) {
  std::size_t means = 0;
  for (const Json& one : Cases()) {
    if (!one.contains("rmst")) continue;
    SCOPED_TRACE(one.at("name").get<std::string>());
    const Json& expected = one.at("rmst");
    const Mean mean = MeanUpTo(FitKaplanMeier(LivesOf(one)), expected.at("tau").get<double>());
    EXPECT_NEAR(mean.days, expected.at("value").get<double>(), kPublishedTolerance);
    EXPECT_NEAR(mean.std_error, expected.at("se").get<double>(), kPublishedTolerance);
    ++means;
  }
  EXPECT_EQ(means, 3U);
}

// Source: Kleinbaum & Klein, Survival Analysis, ch. 2, to the four decimals printed there.
TEST(PublishedKaplanMeier, MeetsTheRemissionTimesAsPrinted) {
  const Json one = Cases().front();
  const Curve curve = FitKaplanMeier(LivesOf(one));
  const Json& published = one.at("published");
  ASSERT_THAT(published.at("time"), SizeIs(7));
  for (std::size_t i = 0; i < published.at("time").size(); ++i) {
    EXPECT_NEAR(curve.AliveAt(published.at("time")[i].get<double>()),
                published.at("surv4")[i].get<double>(), 0.00005);
  }
}

}  // namespace
}  // namespace broodpact::survival
