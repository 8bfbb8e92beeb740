#pragma once

// Which male: ranks what the cooperative has by criteria that are all shown.
//
// Pure: the caller gathers the facts about each candidate.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "client/base/day.h"
#include "client/base/id.h"

namespace broodpact::match {

enum class Availability : std::uint8_t {
  kFree = 0,
  kPromisedBefore = 1,  // promised, and due back by the day asked for
  kPromised = 2,        // promised past the day asked for, or without an end
};

enum class Nearness : std::uint8_t { kOwn = 0, kSameRegion = 1, kAbroad = 2, kNotSaid = 3 };

// Whether a search looks across borders, where papers may be needed.
enum class Borders : std::uint8_t { kCrossed = 0, kKept = 1 };

// One male, as far as the ranking needs him. Numbers are numbers: no NaN.
struct Candidate {
  AnimalId animal{};
  Availability availability = Availability::kFree;
  Nearness nearness = Nearness::kNotSaid;
  std::optional<std::uint32_t> distance_km{};    // coarse; nothing: not known
  std::optional<double> mature_chance{};         // on the day asked for; nothing: he is mature
  std::optional<std::int32_t> mature_days{};     // at the day asked for; nothing: not known
  std::optional<double> left_days{};             // expected then; nothing: no data
  std::optional<double> offspring_inbreeding{};  // 0 .. 1; nothing: no female was named
  std::optional<double> diversity_gain{};        // of the group; nothing: not computed
  std::uint32_t pairings = 0;

  friend bool operator==(const Candidate&, const Candidate&) = default;
};

// What leaves a candidate out. At a bound it stays in; so does one without data, as silence is no
// reason against an animal.
struct Bounds {
  std::optional<double> offspring_inbreeding_max{};
  std::optional<double> diversity_gain_min{};
  std::optional<double> left_days_min{};
  std::optional<std::int32_t> mature_days_max{};
  std::optional<std::uint32_t> distance_km_max{};
  std::optional<std::uint32_t> pairings_max{};
  std::optional<Availability> availability_max{};
  Borders borders = Borders::kCrossed;
};

// What males are ordered by, in this order.
enum class Criterion : std::uint8_t {
  kAvailability,  // free first, then those back in time, then the promised
  kMaturity,      // mature first, then the likelier to be mature in time
  kInbreeding,    // of the offspring, lower first
  kTimeLeft,      // expected, longer first
  kGain,          // in gene diversity of the group, larger first
  kFreshness,     // younger in maturity first
  kDistance,      // nearer first: own, same region, abroad by kilometres
  kPairings,      // fewer first
};
inline constexpr std::size_t kCriteria = 8;

// Orders males by the criteria that are not ignored, one after the other; what is not known comes
// after what is; equals in order of id. Leaves out what is out of bounds.
//
// The result does not depend on the order of `candidates`, which have each animal once.
std::vector<Candidate> RankMales(std::vector<Candidate> candidates, const Bounds& bounds,
                                 std::span<const Criterion> ignored = {});

// The first criterion by which two males differ that is not ignored; nothing: they are equal but
// for their ids.
std::optional<Criterion> DecisiveOf(const Candidate& first, const Candidate& second,
                                    std::span<const Criterion> ignored);

// The order in words, and each criterion: "free first, then lower inbreeding of the offspring,
// ...".
std::string OrderOf(std::span<const Criterion> ignored);
std::string_view ToText(Criterion criterion);

// The rule of RankMales as one sentence, nothing ignored.
inline constexpr char kMaleOrder[] =
    "free first, mature before maturing, lower inbreeding of the offspring, longer expected time "
    "left, larger gain in gene diversity, fresher maturity, nearer, fewer pairings";

}  // namespace broodpact::match
