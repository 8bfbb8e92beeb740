// Goal: intervals of shares and rates are those of R, down to none and one. Method: every case of
// tests/published/survival/proportions_rates.json, and a law.
//
// Source: R 4.2.2 (prop.test without correction, binom.test, poisson.test).

#include "client/survival/proportion.h"

#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <nlohmann/json.hpp>

namespace broodpact::survival {
namespace {

using Json = nlohmann::json;

constexpr double kProportionTolerance = 1e-8;

void ExpectInterval(const Interval& interval, const Json& expected) {
  EXPECT_NEAR(interval.lower, expected[0].get<double>(), kProportionTolerance);
  EXPECT_NEAR(interval.upper, expected[1].get<double>(), kProportionTolerance);
}

TEST(Proportion, MeetsThePublishedCases) {
  std::ifstream file(std::string(BROODPACT_PUBLISHED) + "/survival/proportions_rates.json");
  const Json cases = Json::parse(file).at("cases");
  EXPECT_THAT(cases, ::testing::SizeIs(8));
  for (const Json& one : cases) {
    SCOPED_TRACE(one.dump());
    if (one.at("kind") == "binomial_ci95") {
      const auto hits = one.at("x").get<std::uint32_t>();
      const auto all = one.at("n").get<std::uint32_t>();
      ExpectInterval(WilsonInterval(hits, all), one.at("wilson"));
      ExpectInterval(ClopperPearsonInterval(hits, all), one.at("clopper_pearson"));
      continue;
    }
    const auto rate =
        RateOf(one.at("events").get<std::uint32_t>(), one.at("exposure").get<double>());
    ASSERT_TRUE(rate);
    EXPECT_NEAR(rate->rate, one.at("rate").get<double>(), kProportionTolerance);
    ExpectInterval({rate->lower, rate->upper}, one.at("rate_ci95"));
    EXPECT_EQ(rate->mean_days.has_value(), !one.at("mean_time").is_null());
    if (rate->mean_days) {
      EXPECT_NEAR(*rate->mean_days, one.at("mean_time").get<double>(), kProportionTolerance);
    }
  }
}

RC_GTEST_PROP(Proportion, LiesWithinItsIntervals, ()) {
  const auto all = *rc::gen::inRange<std::uint32_t>(1, 200);
  const auto cases = *rc::gen::inRange<std::uint32_t>(0, all + 1);
  const double share = static_cast<double>(cases) / all;
  for (const Interval& interval :
       {WilsonInterval(cases, all), ClopperPearsonInterval(cases, all)}) {
    RC_ASSERT(0 <= interval.lower && interval.lower <= share + 1e-12);
    RC_ASSERT(share <= interval.upper + 1e-12 && interval.upper <= 1);
  }
}

TEST(Proportion, OfNoneSaysNothing) {
  EXPECT_EQ(WilsonInterval(0, 0).lower, 0);
  EXPECT_EQ(WilsonInterval(0, 0).upper, 1);
  EXPECT_EQ(ClopperPearsonInterval(0, 0).upper, 1);
  EXPECT_FALSE(RateOf(0, 0));
}

}  // namespace
}  // namespace broodpact::survival
