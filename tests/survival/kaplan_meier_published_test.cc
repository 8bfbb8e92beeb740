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
#include <nlohmann/json.hpp>

namespace broodpact::survival {
namespace {

using ::testing::SizeIs;
using Json = nlohmann::json;

constexpr double kTolerance = 1e-8;

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
  EXPECT_NEAR(point.alive, at.at("surv")[i].get<double>(), kTolerance);
  if (at.at("se_greenwood")[i].is_null()) {
    // R says nothing once none is alive; so do we, as our contract puts it.
    EXPECT_EQ(point.alive, 0);
    EXPECT_EQ(point.std_error, 0);
    EXPECT_EQ(point.lower, 0);
    EXPECT_EQ(point.upper, 1);
    return;
  }
  const Json& interval = at.at("ci_loglog");
  EXPECT_NEAR(point.std_error, at.at("se_greenwood")[i].get<double>(), kTolerance);
  EXPECT_NEAR(point.lower, interval.at("lower")[i].get<double>(), kTolerance);
  EXPECT_NEAR(point.upper, interval.at("upper")[i].get<double>(), kTolerance);
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

TEST(PublishedKaplanMeier, MeetsEveryMedian) {
  for (const Json& one : Cases()) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const Json& median = one.at("quantiles_25_50_75").at("log-log").at("q")[1];
    EXPECT_EQ(MedianLeft(FitKaplanMeier(LivesOf(one)), 0), median.get<double>());
  }
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
