// Goal: two groups of lives compare as in R, and nothing is said where nothing was seen. Method:
// the cases of tests/published/survival/logrank.json, laws, and edges.
//
// Source: R 4.2.2, survival 3.5.3 (survdiff), on data of Freireich et al. 1963 and Miller 1997.

#include "client/survival/log_rank.h"

#include <cmath>
#include <fstream>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <nlohmann/json.hpp>

namespace broodpact::survival {
namespace {

using Json = nlohmann::json;

constexpr double kLogRankTolerance = 1e-8;

TEST(LogRank, MeetsThePublishedCases) {
  std::ifstream file(std::string(BROODPACT_PUBLISHED) + "/survival/logrank.json");
  const Json cases = Json::parse(file).at("cases");
  EXPECT_THAT(cases, ::testing::SizeIs(2));
  for (const Json& one : cases) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    std::vector<Life> first;
    std::vector<Life> second;
    for (std::size_t i = 0; i < one.at("time").size(); ++i) {
      const bool died = one.at("status")[i].get<int>() == 1;
      (one.at("group")[i] == one.at("groups")[0] ? first : second)
          .push_back({.exit = one.at("time")[i].get<double>(),
                      .ending = died ? Ending::kDied : Ending::kStillAlive});
    }
    const auto test = LogRankOf(first, second);
    ASSERT_TRUE(test);
    EXPECT_EQ(test->first_observed, one.at("observed")[0].get<double>());
    EXPECT_EQ(test->second_observed, one.at("observed")[1].get<double>());
    EXPECT_NEAR(test->first_expected, one.at("expected")[0].get<double>(), kLogRankTolerance);
    EXPECT_NEAR(test->second_expected, one.at("expected")[1].get<double>(), kLogRankTolerance);
    EXPECT_NEAR(test->chi_square, one.at("chisq").get<double>(), kLogRankTolerance);
    EXPECT_NEAR(test->probability, one.at("p").get<double>(), kLogRankTolerance);
  }
}

rc::Gen<std::vector<Life>> AnyGroup() {
  return rc::gen::container<std::vector<Life>>(rc::gen::exec([] {
    return Life{.entry = *rc::gen::element<double>(0, 0, 3),
                .exit = *rc::gen::inRange(0, 9) * 1.0,
                .ending = *rc::gen::element(Ending::kStillAlive, Ending::kDied)};
  }));
}

RC_GTEST_PROP(LogRank, ExpectsAsManyDeathsAsWereSeen, ()) {
  const auto test = LogRankOf(*AnyGroup(), *AnyGroup());
  if (!test) return;
  RC_ASSERT(std::abs(test->first_expected + test->second_expected - test->first_observed -
                     test->second_observed) < 1e-9);
  RC_ASSERT(test->probability >= 0 && test->probability <= 1);
}

RC_GTEST_PROP(LogRank, IsTheSameTheOtherWayRound, ()) {
  const auto first = *AnyGroup();
  const auto second = *AnyGroup();
  const auto one = LogRankOf(first, second);
  const auto other = LogRankOf(second, first);
  RC_ASSERT(one.has_value() == other.has_value());
  if (one) RC_ASSERT(std::abs(one->chi_square - other->chi_square) < 1e-9);
}

TEST(LogRank, SaysNothingOfEmptyGroupsOrWithoutDeaths) {
  const std::vector<Life> alive{{.exit = 10}, {.exit = 20}};
  const std::vector<Life> died{{.exit = 5, .ending = Ending::kDied}};
  EXPECT_EQ(LogRankOf({}, {}), std::nullopt);
  EXPECT_EQ(LogRankOf(alive, alive), std::nullopt);
  EXPECT_EQ(LogRankOf(died, {}), std::nullopt);
}

}  // namespace
}  // namespace broodpact::survival
