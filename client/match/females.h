#pragma once

// Which female: ranks what the cooperative has by criteria that are all shown.
//
// Pure: the caller gathers the facts about each candidate.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "client/base/id.h"
#include "client/match/candidates.h"

namespace broodpact::match {

// Whether she could be paired on the day asked for.
enum class Breeding : std::uint8_t {
  kReady = 0,
  kMaturityNotSaid = 1,  // nobody stated it, and she was never paired
  kOccupied = 2,         // has a sac, or was paired and has not moulted since
};

// One female. Numbers are numbers: no NaN.
struct FemaleCandidate {
  AnimalId animal{};
  Availability availability = Availability::kFree;
  Breeding breeding = Breeding::kReady;
  Nearness nearness = Nearness::kNotSaid;
  std::optional<std::uint32_t> distance_km{};    // coarse; nothing: not known
  std::optional<std::int32_t> moult_days{};      // since her last moult, at the day asked for
  std::optional<double> offspring_inbreeding{};  // 0 .. 1; nothing: no male was named
  std::optional<double> diversity_gain{};        // of the group; nothing: not computed

  friend bool operator==(const FemaleCandidate&, const FemaleCandidate&) = default;
};

// What leaves a candidate out, as for males.
struct FemaleBounds {
  std::optional<double> offspring_inbreeding_max{};
  std::optional<double> diversity_gain_min{};
  std::optional<std::int32_t> moult_days_max{};
  std::optional<std::uint32_t> distance_km_max{};
  std::optional<Availability> availability_max{};
  std::optional<Breeding> breeding_max{};
  Borders borders = Borders::kCrossed;
};

// What females are ordered by, in this order.
enum class FemaleCriterion : std::uint8_t {
  kAvailability,  // free first, then those back in time, then the promised
  kBreeding,      // ready first, then those of whom it is not said, then the occupied
  kInbreeding,    // of the offspring, lower first
  kGain,          // in gene diversity of the group, larger first
  kMoult,         // fresher first
  kDistance,      // nearer first: own, same region, abroad by kilometres
};
inline constexpr std::size_t kFemaleCriteria = 6;

// As RankMales.
std::vector<FemaleCandidate> RankFemales(std::vector<FemaleCandidate> candidates,
                                         const FemaleBounds& bounds,
                                         std::span<const FemaleCriterion> ignored = {});

// As for males.
std::optional<FemaleCriterion> DecisiveOf(const FemaleCandidate& first,
                                          const FemaleCandidate& second,
                                          std::span<const FemaleCriterion> ignored);
std::string OrderOf(std::span<const FemaleCriterion> ignored);
std::string_view ToText(FemaleCriterion criterion);

// The rule of RankFemales as one sentence, nothing ignored.
inline constexpr char kFemaleOrder[] =
    "free first, ready before not known to be mature before occupied, lower inbreeding of the "
    "offspring, larger gain in gene diversity, fresher moult, nearer";

}  // namespace broodpact::match
