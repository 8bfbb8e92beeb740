#pragma once

// Which male, which female: ranks what the cooperative has by criteria that are all shown.
//
// Pure: the caller gathers the facts about each candidate.

#include <cstdint>
#include <optional>
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

// One male, as far as the ranking needs him. Numbers are numbers: no NaN.
struct Candidate {
  AnimalId animal{};
  Availability availability = Availability::kFree;
  Nearness nearness = Nearness::kNotSaid;
  std::optional<std::int32_t> mature_days{};     // at the day asked for; nothing: not known
  std::optional<double> left_days{};             // expected then; nothing: no data
  std::optional<double> offspring_inbreeding{};  // nothing: no female was named
  std::uint32_t pairings = 0;
};

// What leaves a candidate out.
struct Bounds {
  std::optional<double> offspring_inbreeding_max{};
  std::optional<double> left_days_min{};  // those without data stay
};

// Orders males: free first; then lower offspring inbreeding; then longer expected time left (those
// without data after those with); then younger in maturity; then nearer; then fewer pairings; then
// id. Leaves out what is out of bounds.
std::vector<Candidate> RankMales(std::vector<Candidate> candidates, const Bounds& bounds);

// The rule of RankMales as one sentence.
inline constexpr char kMaleOrder[] =
    "free first, then lower inbreeding of the offspring, longer expected time left, fresher "
    "maturity, nearer, fewer pairings";

// One female.
struct FemaleCandidate {
  AnimalId animal{};
  Availability availability = Availability::kFree;
  Nearness nearness = Nearness::kNotSaid;
  std::optional<std::int32_t> moult_days{};      // since her last moult, at the day asked for
  std::optional<double> offspring_inbreeding{};  // nothing: no male was named
};

// Orders females: free first; then lower offspring inbreeding; then the fresher moult (unknown
// last); then nearer; then id.
std::vector<FemaleCandidate> RankFemales(std::vector<FemaleCandidate> candidates,
                                         const Bounds& bounds);

// The rule of RankFemales as one sentence.
inline constexpr char kFemaleOrder[] =
    "free first, then lower inbreeding of the offspring, fresher moult, nearer";

}  // namespace broodpact::match
