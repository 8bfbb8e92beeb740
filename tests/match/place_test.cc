// Goal: coarse distances are right, and none is made up. Method: published great circles and
// geohashes (tests/published/misc, sources inside), codes of ISO 3166-1, and laws.

#include "client/match/place.h"

#include <cmath>
#include <fstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <nlohmann/json.hpp>

namespace broodpact::match {
namespace {

using Json = nlohmann::json;

Json DistancesOf(const std::string& name) {
  std::ifstream file(std::string(BROODPACT_PUBLISHED) + "/misc/" + name);
  return Json::parse(file).at("cases");
}

TEST(Place, MeetsThePublishedGreatCircles) {
  for (const Json& one : DistancesOf("great_circle.json")) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const Place a{one.at("lat1").get<double>(), one.at("lon1").get<double>()};
    const Place b{one.at("lat2").get<double>(), one.at("lon2").get<double>()};
    const double expected = one.at("km_sphere_6371_0088").get<double>();
    EXPECT_NEAR(DistanceKm(a, b), expected, std::max(1e-6, expected * 1e-9));
  }
}

TEST(Place, MeetsThePublishedGeohashes) {
  for (const Json& one : DistancesOf("geohash.json")) {
    SCOPED_TRACE(one.dump());
    const auto square = SquareOf(one.at("geohash").get<std::string>());
    ASSERT_TRUE(square);
    const Json& cell = one.at("cell");
    EXPECT_DOUBLE_EQ(square->latitude_min, cell.at("lat_min").get<double>());
    EXPECT_DOUBLE_EQ(square->latitude_max, cell.at("lat_max").get<double>());
    EXPECT_DOUBLE_EQ(square->longitude_min, cell.at("lon_min").get<double>());
    EXPECT_DOUBLE_EQ(square->longitude_max, cell.at("lon_max").get<double>());
  }
}

TEST(Place, KnowsTheCodesOfCountriesAndNoOthers) {
  for (const Json& one : DistancesOf("iso3166_checks.json")) {
    const auto code = one.at("code").get<std::string>();
    EXPECT_EQ(PlaceOf(code).has_value(), one.at("valid").get<bool>()) << code;
  }
}

TEST(Place, IsNotMadeUpForOtherTexts) {
  for (const char* text : {"", "u", "u3", "Praha", "u33a", "u33dc0x", "cz", "north"}) {
    EXPECT_FALSE(PlaceOf(text)) << text;
    EXPECT_FALSE(RegionDistanceKm("CZ", text)) << text;
  }
}

TEST(Place, TellsDistancesOfRegionsToTenKilometres) {
  EXPECT_EQ(RegionDistanceKm("CZ", "CZ"), 0U);
  EXPECT_EQ(RegionDistanceKm("CZ", "DE"), RegionDistanceKm("DE", "CZ"));
  EXPECT_LT(*RegionDistanceKm("CZ", "DE"), 400U);
  EXPECT_GT(*RegionDistanceKm("CZ", "AU"), 10'000U);
  EXPECT_EQ(*RegionDistanceKm("CZ", "u2f") % 10, 0U);
}

RC_GTEST_PROP(Place, IsAsFarThereAsBackAndNeverFartherThanHalfWayRound, ()) {
  const auto any = [] {
    return Place{*rc::gen::inRange(-90, 91) * 1.0, *rc::gen::inRange(-180, 181) * 1.0};
  };
  const Place a = any();
  const Place b = any();
  RC_ASSERT(std::abs(DistanceKm(a, b) - DistanceKm(b, a)) < 1e-9);
  RC_ASSERT(DistanceKm(a, b) <= 20'015.2);
  RC_ASSERT(DistanceKm(a, a) == 0);
}

}  // namespace
}  // namespace broodpact::match
