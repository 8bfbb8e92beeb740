#pragma once

// Which males to which females of a group in a season, so that the lines stay as rich as they can.
//
// What is made as large as it can be: the sum over the pairs of the sacs expected, each times the
// gene diversity of the offspring kept from it. Expected sacs of a pair: the chance that the male
// lives until then, times that of a viable sac from the female. Gene diversity of its offspring:
// one less the kinship of one of them with another that is kept, which is, with S sacs planned,
//
//   1/S of the time a sib:    (f_mm + f_ff + 2 f_mf) / 4     f: kinship, m: male, f: female
//   else one of the living:   (mk_m + mk_f) / 2              mk: mean kinship with all living
//
// (Malecot 1948; mean kinship as in Ballou & Lacy 1995.) A pair's offspring is weighed against the
// living, not against that of the other pairs, so that the sum is over pairs and the best choice
// exact; what all offspring kept have together is computed afterwards and shown.
//
// Worths are rounded to a millionth of a sac. Of choices of equal worth the one with the shorter
// journeys is made, to ten kilometres; of those always the same, with animals in order of id.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "client/base/id.h"
#include "client/kinship/pedigree.h"

namespace broodpact::match {

struct PlanMale {
  AnimalId animal{};
  KeeperId holder{};
  kinship::Node node = 0;
  std::uint32_t capacity = 1;  // pairs at most, 1 .. kCapacityMax
  double lasting = 1;          // chance that he lives until the pairing, 0 .. 1
};

struct PlanFemale {
  AnimalId animal{};
  KeeperId holder{};
  kinship::Node node = 0;
  double sac_chance = 0;  // of a viable sac from a pairing, 0 .. 1
};

// One way between two keepers.
struct Journey {
  bool vetoed = false;                // by a keeper
  std::optional<std::uint32_t> km{};  // coarse; nothing: not known
};

struct PlanBounds {
  std::optional<double> inbreeding_max{};          // of the offspring; at the bound a pair may be
  std::optional<std::uint32_t> distance_km_max{};  // where a distance is known
};

// What there is to plan with; at most kMarketMax males and females each.
struct Season {
  const kinship::Pedigree& pedigree;
  std::vector<kinship::Node> living{};  // of the group; whose gene diversity is to be kept
  std::vector<PlanMale> males{};
  std::vector<PlanFemale> females{};
  std::function<Journey(const PlanMale&, const PlanFemale&)> journey{};
  PlanBounds bounds{};
};

struct PlannedPair {
  AnimalId male{};
  AnimalId female{};
  double sacs = 0;            // expected
  double inbreeding = 0;      // of the offspring
  double gene_diversity = 0;  // of the offspring, as at the top
  bool travels = false;       // the two have different holders
  std::optional<std::uint32_t> km{};

  friend bool operator==(const PlannedPair&, const PlannedPair&) = default;
};

// What a choice of pairs comes to.
struct Planned {
  std::vector<PlannedPair> pairs{};  // in order of male, then female
  double worth = 0;
  double sacs = 0;
  // Of all offspring kept together, the same number from every sac; nothing where none is expected.
  std::optional<double> gene_diversity{};
  std::optional<double> inbreeding{};  // mean of the offspring
  std::uint32_t journeys = 0;
  std::uint64_t km = 0;  // of those that are known
};

// Why pairs that there might be must not be; each is counted once, by the first that holds.
struct Obstacles {
  std::uint64_t pairs = 0;  // that there might be: males times females
  std::uint64_t vetoed = 0;
  std::uint64_t inbred = 0;  // above the ceiling
  std::uint64_t far = 0;
  std::uint64_t hopeless = 0;              // no sac is expected of it
  std::optional<double> inbreeding_min{};  // the lowest of all that no keeper vetoes

  std::uint64_t possible() const { return pairs - vetoed - inbred - far - hopeless; }
};

// A plan, and what would be without it, under the same bounds and vetoes.
struct PlanAnswer {
  Planned plan{};
  Planned no_exchange{};  // the best of pairs whose animals have one holder
  Planned nearest{};      // every pair that is free, in order of distance, then of female and male
  Obstacles obstacles{};
};

// Plans a season. The answer does not depend on the order of males and females.
PlanAnswer PlanSeason(const Season& season);

}  // namespace broodpact::match
