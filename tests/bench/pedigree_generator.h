#pragma once

// Pedigrees like those of a cooperative that has gone on for twenty generations: clutches of
// dozens to hundreds out of parents that overlap by half a generation either way.

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "client/kinship/parents.h"

namespace broodpact::bench {

inline constexpr std::size_t kGenerations = 20;

struct PedigreePlan {
  std::size_t animals = 1'000'000;
  std::uint64_t clutch_mean = 100;  // sizes are even from 1 to twice that, less one
  std::uint64_t mates = 2;          // females that a male is paired with
};

// The same on every machine: the generator is that of tests/published/kinship/
// synthetic_generator.json. Parents were born half a generation to one and a half before; one
// animal in a hundred of the first generation is a founder.
inline std::vector<kinship::Parents> GeneratePedigree(const PedigreePlan& plan) {
  using kinship::Node;
  std::uint64_t state = 7;
  const auto random = [&state](std::uint64_t bound) {
    state = state * 6'364'136'223'846'793'005U + 1'442'695'040'888'963'407U;
    return (state >> 33) % bound;
  };
  const std::size_t generation = plan.animals / kGenerations;
  const std::size_t founders = std::max<std::size_t>(20, generation / 100);
  std::vector<kinship::Parents> animals(founders);
  std::vector<std::uint64_t> sexes;
  for (std::size_t i = 0; i < founders; ++i) sexes.push_back(i % 2);
  const auto parent_of = [&](std::uint64_t sex) {
    const std::size_t born = animals.size();
    const std::size_t oldest = born > generation * 3 / 2 ? born - generation * 3 / 2 : 0;
    const std::size_t youngest = born > generation / 2 + founders ? born - generation / 2 : born;
    for (;;) {
      const auto animal = oldest + random(youngest - oldest);
      if (sexes[animal] == sex) return static_cast<Node>(animal);
    }
  };
  while (animals.size() < plan.animals) {
    const Node sire = parent_of(1);
    for (std::uint64_t mate = 0; mate < plan.mates; ++mate) {
      const Node dam = parent_of(0);
      const std::uint64_t size = 1 + random(2 * plan.clutch_mean - 1);
      for (std::uint64_t i = 0; i < size && animals.size() < plan.animals; ++i) {
        animals.push_back({.sire = sire, .dam = dam});
        sexes.push_back(random(2));
      }
    }
  }
  return animals;
}

}  // namespace broodpact::bench
