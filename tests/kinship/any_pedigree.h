#pragma once

// Pedigrees for the tests of kinship: generated ones in which close relatives meet often, and the
// definition of kinship done slowly.

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <random>
#include <vector>

#include <rapidcheck.h>

#include "client/kinship/parents.h"

namespace broodpact::kinship {

// 1 to 24 animals; parents come from the few before, or are unknown; sexes are not kept apart, so
// that selfing occurs too. Parents stand before their offspring.
inline rc::Gen<std::vector<Parents>> AnyOrderedPedigree() {
  return rc::gen::exec([] {
    std::vector<Parents> animals(*rc::gen::inRange<std::size_t>(1, 25));
    for (std::size_t i = 0; i < animals.size(); ++i) {
      const auto parent = [i] {
        if (i == 0 || *rc::gen::inRange(0, 5) == 0) return kUnknown;
        const std::size_t back = *rc::gen::inRange<std::size_t>(1, std::min<std::size_t>(i, 6) + 1);
        return static_cast<Node>(i - back);
      };
      animals[i] = {.sire = parent(), .dam = parent()};
    }
    return animals;
  });
}

// The same pedigree under other numbers: animal i becomes numbers[i].
inline std::vector<Parents> Renumbered(const std::vector<Parents>& animals,
                                       const std::vector<Node>& numbers) {
  const auto renamed = [&](Node animal) { return animal == kUnknown ? kUnknown : numbers[animal]; };
  std::vector<Parents> result(animals.size());
  for (std::size_t i = 0; i < animals.size(); ++i) {
    result[numbers[i]] = {.sire = renamed(animals[i].sire), .dam = renamed(animals[i].dam)};
  }
  return result;
}

inline std::vector<Node> AnyNumbering(std::size_t count) {
  std::vector<Node> numbers(count);
  std::iota(numbers.begin(), numbers.end(), Node{0});
  std::ranges::shuffle(numbers, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  return numbers;
}

using Matrix = std::vector<std::vector<double>>;

// Kinship of all with all by the tabular method (Emik & Terrill, J. Heredity 40 (1949) 51-55):
// straight from the definition, cell by cell. Parents stand before their offspring.
inline Matrix TabularKinship(const std::vector<Parents>& animals) {
  Matrix kinship(animals.size(), std::vector<double>(animals.size()));
  const auto cell = [&](Node a, Node b) {
    return a == kUnknown || b == kUnknown ? 0.0 : kinship[a][b];
  };
  for (std::size_t i = 0; i < animals.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      const auto other = static_cast<Node>(j);
      kinship[i][j] = (cell(animals[i].sire, other) + cell(animals[i].dam, other)) / 2;
      kinship[j][i] = kinship[i][j];
    }
    kinship[i][i] = (1 + cell(animals[i].sire, animals[i].dam)) / 2;
  }
  return kinship;
}

}  // namespace broodpact::kinship
