// Goal: inbreeding by whole rows of relationships is that by walks and by the definition, in
// pedigrees large enough that both ways are taken. Method: the tabular method as a naive twin, on
// the generated pedigrees of a published generator.

#include <cstdint>

#include <gtest/gtest.h>

#include "client/kinship/pedigree.h"
#include "tests/kinship/any_pedigree.h"

namespace broodpact::kinship {
namespace {

// 600 animals in clutches of 1 to 6, out of parents among the last `window`.
std::vector<Parents> Clutches(std::uint64_t seed, Node window) {
  std::uint64_t state = seed;
  const auto random = [&](std::uint64_t bound) {
    state = state * 6'364'136'223'846'793'005U + 1'442'695'040'888'963'407U;
    return static_cast<Node>((state >> 33) % bound);
  };
  std::vector<Parents> animals(8);
  while (animals.size() < 600) {
    const auto last = static_cast<Node>(animals.size());
    const Node oldest = last > window ? last - window : 0;
    const Node sire = oldest + random(last - oldest);
    const Node dam = oldest + random(last - oldest);
    const Node missing = random(12);
    animals.insert(animals.end(), 1 + random(6),
                   {.sire = missing == 0 ? kUnknown : sire, .dam = missing == 1 ? kUnknown : dam});
  }
  return animals;
}

TEST(Inbreeding, IsTheDefinitionInDenseAndInLoosePedigrees) {
  for (const Node window : {10U, 40U, 300U}) {
    const auto animals = Clutches(window, window);
    const Matrix expected = TabularKinship(animals);
    const auto pedigree = Pedigree::Of(animals);
    ASSERT_TRUE(pedigree.ok());
    for (Node i = 0; i < animals.size(); ++i) {
      ASSERT_NEAR((1 + pedigree->Inbreeding(i)) / 2, expected[i][i], 1e-13) << i;
    }
    const Node last = static_cast<Node>(animals.size()) - 1;
    const auto with_last = pedigree->KinshipWithAll(last);
    for (Node i = 0; i < animals.size(); ++i) {
      ASSERT_NEAR(with_last[i], expected[last][i], 1e-13) << i;
      ASSERT_NEAR(pedigree->Kinship(i, last), expected[last][i], 1e-13) << i;
    }
  }
}

}  // namespace
}  // namespace broodpact::kinship
