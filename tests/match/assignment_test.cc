// Goal: no other choice of pairs is worth more, and none of equal worth takes less of a burden.
// Method: the published cases (tests/published/assignment: classic matrices; OR-Library assign100,
// Beasley 1990; capacitated ones solved by SciPy and by R lpSolve), and every choice that there is
// tried out for small markets with many ties.

#include "client/match/assignment.h"

#include <algorithm>
#include <fstream>
#include <map>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <nlohmann/json.hpp>

namespace broodpact::match {
namespace {

using ::testing::IsEmpty;
using ::testing::SizeIs;
using Json = nlohmann::json;

Json MarketsOf(const std::string& name) {
  std::ifstream file(std::string(BROODPACT_PUBLISHED) + "/assignment/" + name);
  return Json::parse(file).at("cases");
}

std::int64_t WorthOf(const Market& market, const std::vector<Pair>& pairs) {
  std::int64_t worth = 0;
  for (const Pair& pair : pairs) {
    worth += market.worths[pair.male * market.female_capacities.size() + pair.female];
  }
  return worth;
}

std::int64_t BurdenOf(const Market& market, const std::vector<Pair>& pairs) {
  std::int64_t burden = 0;
  for (const Pair& pair : pairs) {
    burden += market.burdens[pair.male * market.female_capacities.size() + pair.female];
  }
  return burden;
}

bool StaysWithin(const Market& market, const std::vector<Pair>& pairs) {
  std::map<std::uint32_t, std::uint32_t> of_male;
  std::map<std::uint32_t, std::uint32_t> of_female;
  for (const Pair& pair : pairs) {
    const std::size_t at = pair.male * market.female_capacities.size() + pair.female;
    if (market.worths[at] <= 0) return false;
    if (++of_male[pair.male] > market.male_capacities[pair.male]) return false;
    if (++of_female[pair.female] > market.female_capacities[pair.female]) return false;
  }
  return std::ranges::is_sorted(pairs) && std::ranges::adjacent_find(pairs) == pairs.end();
}

// A worth that no sum of costs outweighs: as many as can be are paired.
constexpr std::int64_t kPaired = 100'000;

// A cost matrix as a market in which everybody is worth pairing: `sign` is -1 where the cheapest
// choice is sought, and 1 for the dearest.
Market MarketOfCosts(const Json& costs, std::int64_t sign) {
  Market market;
  market.male_capacities.assign(costs.size(), 1);
  market.female_capacities.assign(costs[0].size(), 1);
  for (const Json& row : costs) {
    for (const Json& cost : row) {
      market.worths.push_back(cost.is_null() ? kForbidden
                                             : kPaired + sign * cost.get<std::int64_t>());
    }
  }
  return market;
}

std::int64_t CostOf(const Market& market, const std::vector<Pair>& pairs) {
  return WorthOf(market, pairs) - static_cast<std::int64_t>(pairs.size()) * kPaired;
}

TEST(BestPairs, MeetsThePublishedCosts) {
  const Json cases = MarketsOf("small.json");
  EXPECT_THAT(cases, SizeIs(11));
  for (const Json& one : cases) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const Market market = MarketOfCosts(one.at("cost"), -1);
    const std::vector<Pair> pairs = BestPairs(market);
    EXPECT_TRUE(StaysWithin(market, pairs));
    const std::size_t all =
        std::min(market.male_capacities.size(), market.female_capacities.size());
    if (one.at("min_cost").is_null()) {  // not everybody can be paired
      EXPECT_LT(pairs.size(), all);
      continue;
    }
    EXPECT_THAT(pairs, SizeIs(all));
    EXPECT_EQ(-CostOf(market, pairs), one.at("min_cost").get<std::int64_t>());
    if (!one.contains("max_value") || one.at("max_value").is_null()) continue;
    const Market dearest = MarketOfCosts(one.at("cost"), 1);
    EXPECT_EQ(CostOf(dearest, BestPairs(dearest)), one.at("max_value").get<std::int64_t>());
  }
}

TEST(BestPairs, MeetsAHundredByAHundred) {
  const Json cases = MarketsOf("orlib_assign100.json");
  const Market market = MarketOfCosts(cases[0].at("cost"), -1);
  const std::vector<Pair> pairs = BestPairs(market);
  EXPECT_THAT(pairs, SizeIs(100));
  EXPECT_EQ(CostOf(market, pairs), -305);
}

TEST(BestPairs, MeetsThePublishedMarketsWithCapacities) {
  for (const Json& one : MarketsOf("capacitated.json")) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    Market market;
    market.male_capacities = one.at("male_capacity").get<std::vector<std::uint32_t>>();
    market.female_capacities = one.at("female_capacity").get<std::vector<std::uint32_t>>();
    for (const Json& row : one.at("weight")) {
      for (const Json& weight : row) {
        const std::int64_t worth = weight.is_null() ? kForbidden : weight.get<std::int64_t>();
        market.worths.push_back(worth < 0 ? kForbidden : worth);
      }
    }
    const std::vector<Pair> pairs = BestPairs(market);
    EXPECT_TRUE(StaysWithin(market, pairs));
    EXPECT_EQ(WorthOf(market, pairs), one.at("max_total_weight").get<double>());
  }
}

rc::Gen<Market> AnyMarket() {
  return rc::gen::exec([] {
    Market market;
    const auto capacity = rc::gen::inRange<std::uint32_t>(0, 3);
    market.male_capacities.resize(*rc::gen::inRange<std::size_t>(1, 5));
    market.female_capacities.resize(*rc::gen::inRange<std::size_t>(1, 4));
    for (std::uint32_t& one : market.male_capacities) one = *capacity;
    for (std::uint32_t& one : market.female_capacities) one = *capacity;
    const std::size_t pairs = market.male_capacities.size() * market.female_capacities.size();
    for (std::size_t i = 0; i < pairs; ++i) {
      market.worths.push_back(*rc::gen::element<std::int64_t>(-1, 0, 1, 2, 3, 1'000'000));
      market.burdens.push_back(*rc::gen::element<std::uint32_t>(0, 1, 5, kPairBurdenMax));
    }
    return market;
  });
}

// Every choice of pairs, by counting in binary.
std::pair<std::int64_t, std::int64_t> BestByTryingAll(const Market& market) {
  std::pair<std::int64_t, std::int64_t> best{0, 0};  // worth, and less burden
  const std::size_t females = market.female_capacities.size();
  for (std::uint32_t choice = 0; choice < 1U << market.worths.size(); ++choice) {
    std::vector<Pair> pairs;
    for (std::uint32_t at = 0; at < market.worths.size(); ++at) {
      if ((choice >> at & 1U) == 0) continue;
      pairs.push_back({.male = at / static_cast<std::uint32_t>(females),
                       .female = at % static_cast<std::uint32_t>(females)});
    }
    if (!StaysWithin(market, pairs)) continue;
    best = std::max(best, {WorthOf(market, pairs), -BurdenOf(market, pairs)});
  }
  return best;
}

RC_GTEST_PROP(BestPairs, IsWorthAsMuchAsTheBestOfAllChoices, ()) {
  const Market market = *AnyMarket();
  const std::vector<Pair> pairs = BestPairs(market);
  RC_ASSERT(StaysWithin(market, pairs));
  const auto [worth, less_burden] = BestByTryingAll(market);
  RC_ASSERT(WorthOf(market, pairs) == worth);
  RC_ASSERT(BurdenOf(market, pairs) == -less_burden);
}

RC_GTEST_PROP(BestPairs, IsTheSameEveryTime, ()) {
  const Market market = *AnyMarket();
  RC_ASSERT(BestPairs(market) == BestPairs(market));
}

TEST(BestPairs, OfNobodyIsNothing) {
  EXPECT_THAT(BestPairs({}), IsEmpty());
  EXPECT_THAT(BestPairs({.male_capacities = {1, 2}}), IsEmpty());
  EXPECT_THAT(BestPairs({.male_capacities = {1}, .female_capacities = {1}, .worths = {kForbidden}}),
              IsEmpty());
}

TEST(BestPairs, HasRoomForTheLargestSumsOfItsBounds) {
  Market market;
  market.male_capacities.assign(300, kCapacityMax);
  market.female_capacities.assign(300, kCapacityMax);
  market.worths.assign(300UL * 300, kPairWorthMax);
  market.burdens.assign(300UL * 300, kPairBurdenMax);
  EXPECT_THAT(BestPairs(market), SizeIs(300UL * kCapacityMax));
}

}  // namespace
}  // namespace broodpact::match
