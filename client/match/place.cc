#include "client/match/place.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <map>
#include <numbers>

#include "client/base/check.h"
#include "client/match/internal/countries.h"

namespace broodpact::match {
namespace {

constexpr double kEarthRadiusKm = 6371.0088;
constexpr std::string_view kGeohashAlphabet = "0123456789bcdefghjkmnpqrstuvwxyz";
constexpr std::size_t kGeohashMax = 12;
// A region of one or two characters would be half a continent; of more than six, a garden.
constexpr std::size_t kRegionSquareMin = 3;
constexpr std::size_t kRegionSquareMax = 6;

double NumberOf(std::string_view text) {
  double number = 0;
  const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  BP_CHECK(error == std::errc() && stop == text.data() + text.size());
  return number;
}

std::map<std::string_view, Place> ReadCountries() {
  std::map<std::string_view, Place> places;
  std::string_view rest = kCountries;
  while (!rest.empty()) {
    const std::string_view line = rest.substr(0, rest.find('\n'));
    rest.remove_prefix(std::min(line.size() + 1, rest.size()));
    if (line.empty() || line.starts_with('#')) continue;
    const std::size_t first = line.find('\t');
    const std::size_t second = line.find('\t', first + 1);
    places.emplace(line.substr(0, first),
                   Place{.latitude = NumberOf(line.substr(first + 1, second - first - 1)),
                         .longitude = NumberOf(line.substr(second + 1))});
  }
  return places;
}

double Radians(double degrees) {
  return degrees * std::numbers::pi / 180;
}

}  // namespace

std::optional<Square> SquareOf(std::string_view geohash) {
  if (geohash.empty() || geohash.size() > kGeohashMax) return std::nullopt;
  Square square{
      .latitude_min = -90, .latitude_max = 90, .longitude_min = -180, .longitude_max = 180};
  bool is_longitude = true;
  for (const char c : geohash) {
    const std::size_t bits = kGeohashAlphabet.find(c);
    if (bits == std::string_view::npos) return std::nullopt;
    for (int bit = 4; bit >= 0; --bit) {
      double& min = is_longitude ? square.longitude_min : square.latitude_min;
      double& max = is_longitude ? square.longitude_max : square.latitude_max;
      const double middle = (min + max) / 2;
      ((bits >> bit) & 1U) != 0 ? min = middle : max = middle;
      is_longitude = !is_longitude;
    }
  }
  return square;
}

std::optional<Place> PlaceOf(std::string_view region) {
  static const std::map<std::string_view, Place> countries = ReadCountries();
  const auto country = countries.find(region);
  if (country != countries.end()) return country->second;
  if (region.size() < kRegionSquareMin || region.size() > kRegionSquareMax) return std::nullopt;
  const std::optional<Square> square = SquareOf(region);
  if (!square) return std::nullopt;
  return Place{.latitude = (square->latitude_min + square->latitude_max) / 2,
               .longitude = (square->longitude_min + square->longitude_max) / 2};
}

double DistanceKm(const Place& a, const Place& b) {
  const double latitude = std::sin(Radians(b.latitude - a.latitude) / 2);
  const double longitude = std::sin(Radians(b.longitude - a.longitude) / 2);
  const double h = latitude * latitude + std::cos(Radians(a.latitude)) *
                                             std::cos(Radians(b.latitude)) * longitude * longitude;
  return 2 * kEarthRadiusKm * std::asin(std::min(1.0, std::sqrt(h)));
}

std::optional<std::uint32_t> RegionDistanceKm(std::string_view a, std::string_view b) {
  constexpr double kStep = 10;
  const std::optional<Place> from = PlaceOf(a);
  const std::optional<Place> to = PlaceOf(b);
  if (!from || !to) return std::nullopt;
  if (a == b) return 0;
  return static_cast<std::uint32_t>(std::lround(DistanceKm(*from, *to) / kStep) *
                                    static_cast<long>(kStep));
}

}  // namespace broodpact::match
