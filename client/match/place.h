#pragma once

// How far apart two regions are, coarsely: regions are what keepers say of where they live, so no
// finer answer is meant to be possible.
//
// A region is a country (two capital letters, ISO 3166-1), placed at the middle of its main towns
// (data/countries.tsv, with its source), or a square of a grid (geohash, 3 to 6 lower-case
// characters; Niemeyer, 2008), placed at its middle. Distances are great circles on a sphere of
// mean radius 6,371.0088 km, by the haversine formula.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstdint>
#include <optional>
#include <string_view>

namespace broodpact::match {

struct Place {
  double latitude = 0;   // degrees, north is above 0
  double longitude = 0;  // degrees, east is above 0
};

// The square of a geohash, 1 to 12 lower-case characters. Nothing for another text.
struct Square {
  double latitude_min = 0, latitude_max = 0;
  double longitude_min = 0, longitude_max = 0;
};
std::optional<Square> SquareOf(std::string_view geohash);

// Where a region is; nothing where the text is neither a country nor a square.
std::optional<Place> PlaceOf(std::string_view region);

// Kilometres along the great circle.
double DistanceKm(const Place& a, const Place& b);

// Whole kilometres between two regions, to the nearest ten: 0 for the same text. Nothing where one
// of them is not recognised.
std::optional<std::uint32_t> RegionDistanceKm(std::string_view a, std::string_view b);

}  // namespace broodpact::match
