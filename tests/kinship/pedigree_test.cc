// Goal: kinship and inbreeding are what their definition says, whatever the numbering, however deep
// or crooked the pedigree. Method: laws against the tabular method as a naive twin, examples, and
// faulty pedigrees.

#include "client/kinship/pedigree.h"

#include <cmath>
#include <random>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "tests/kinship/any_pedigree.h"

namespace broodpact::kinship {
namespace {

using ::testing::DoubleEq;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

// All numbers of small pedigrees are halves of halves: doubles hold them without rounding.
RC_GTEST_PROP(Kinship, IsWhatTheDefinitionSays, ()) {
  const auto animals = *AnyOrderedPedigree();
  const Matrix expected = TabularKinship(animals);
  const auto pedigree = Pedigree::Of(animals);
  RC_ASSERT(pedigree.ok());
  for (Node a = 0; a < animals.size(); ++a) {
    for (Node b = 0; b < animals.size(); ++b) {
      RC_ASSERT(pedigree->Kinship(a, b) == expected[a][b]);
    }
  }
}

RC_GTEST_PROP(Kinship, WithAllAtOnceIsThatOfEachPair, ()) {
  const auto animals = *AnyOrderedPedigree();
  const auto pedigree = Pedigree::Of(animals);
  RC_ASSERT(pedigree.ok());
  for (Node a = 0; a < animals.size(); ++a) {
    const std::vector<double> with_all = pedigree->KinshipWithAll(a);
    RC_ASSERT(with_all.size() == animals.size());
    for (Node b = 0; b < animals.size(); ++b) {
      RC_ASSERT(with_all[b] == pedigree->Kinship(a, b));
    }
  }
}

// Some of the animals of a pedigree, each once.
std::vector<Node> AnySubset(std::size_t count) {
  std::vector<Node> all = AnyNumbering(count);
  all.resize(*rc::gen::inRange<std::size_t>(0, count + 1));
  return all;
}

RC_GTEST_PROP(Kinship, OfManyWithManyIsThatOfEachPair, ()) {
  const auto animals = *AnyOrderedPedigree();
  const auto pedigree = Pedigree::Of(animals);
  RC_ASSERT(pedigree.ok());
  const auto rows = AnySubset(animals.size());
  const auto columns = AnySubset(animals.size());
  const auto between = pedigree->KinshipBetween(rows, columns);
  RC_ASSERT(between.size() == rows.size() * columns.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    for (std::size_t j = 0; j < columns.size(); ++j) {
      RC_ASSERT(between[i * columns.size() + j] == pedigree->Kinship(rows[i], columns[j]));
    }
  }
}

// The parts of a set are no halves of halves: a few units in the last place are allowed.
RC_GTEST_PROP(MeanKinship, IsTheMeanOverAllPairs, ()) {
  const auto animals = *AnyOrderedPedigree();
  const Matrix kinship = TabularKinship(animals);
  const auto pedigree = Pedigree::Of(animals);
  RC_ASSERT(pedigree.ok());
  const auto first = AnySubset(animals.size());
  const auto second = AnySubset(animals.size());
  double between = 0;
  for (const Node a : first) {
    for (const Node b : second) between += kinship[a][b];
  }
  if (!first.empty() && !second.empty()) {
    between /= static_cast<double>(first.size() * second.size());
  }
  RC_ASSERT(std::abs(pedigree->KinshipOfSets(first, second) - between) < 1e-14);
  const MeanKinship mean = pedigree->MeanKinshipOf(first);
  RC_ASSERT(mean.of_each.size() == first.size());
  double overall = 0;
  for (std::size_t i = 0; i < first.size(); ++i) {
    double of_one = 0;
    for (const Node b : first) of_one += kinship[first[i]][b];
    of_one /= static_cast<double>(first.size());
    overall += of_one / static_cast<double>(first.size());
    RC_ASSERT(std::abs(mean.of_each[i] - of_one) < 1e-14);
  }
  RC_ASSERT(std::abs(mean.overall - overall) < 1e-14);
}

RC_GTEST_PROP(Pedigree, GrownClutchByClutchIsTheSameAsMadeAtOnce, ()) {
  const auto animals = *AnyOrderedPedigree();
  auto grown = Pedigree::Of(std::vector<Parents>());
  const auto made = Pedigree::Of(animals);
  RC_ASSERT(grown.ok() && made.ok());
  for (std::size_t i = 0; i < animals.size();) {
    std::size_t mates = 1;
    while (i + mates < animals.size() && animals[i + mates] == animals[i]) ++mates;
    const auto first = grown->AddClutch(animals[i], mates);
    RC_ASSERT(first.ok() && *first == i);
    i += mates;
  }
  for (Node i = 0; i < animals.size(); ++i) {
    RC_ASSERT(grown->Inbreeding(i) == made->Inbreeding(i));
    RC_ASSERT(grown->KinshipWithAll(i) == made->KinshipWithAll(i));
  }
}

TEST(Pedigree, TakesNoClutchOfParentsThatAreNotThere) {
  auto pedigree = Pedigree::Of(std::vector<Parents>{{}, {}});
  ASSERT_TRUE(pedigree.ok());
  EXPECT_EQ(ReasonOf(pedigree->AddClutch({2, 1}, 10).status()), "PARENT_UNKNOWN");
  EXPECT_EQ(pedigree->size(), 2U);
}

RC_GTEST_PROP(Inbreeding, IsTheKinshipOfTheParents, ()) {
  const auto animals = *AnyOrderedPedigree();
  const auto pedigree = Pedigree::Of(animals);
  RC_ASSERT(pedigree.ok());
  for (Node animal = 0; animal < animals.size(); ++animal) {
    const Parents& parents = animals[animal];
    const bool known = parents.sire != kUnknown && parents.dam != kUnknown;
    const double expected = known ? pedigree->Kinship(parents.sire, parents.dam) : 0;
    RC_ASSERT(pedigree->Inbreeding(animal) == expected);
    RC_ASSERT(pedigree->Kinship(animal, animal) == (1 + expected) / 2);
  }
}

RC_GTEST_PROP(Kinship, DoesNotDependOnHowAnimalsAreNumbered, ()) {
  const auto animals = *AnyOrderedPedigree();
  const auto numbers = AnyNumbering(animals.size());
  const auto plain = Pedigree::Of(animals);
  const auto renumbered = Pedigree::Of(Renumbered(animals, numbers));
  RC_ASSERT(plain.ok() && renumbered.ok());
  for (Node a = 0; a < animals.size(); ++a) {
    RC_ASSERT(renumbered->Inbreeding(numbers[a]) == plain->Inbreeding(a));
    for (Node b = 0; b < animals.size(); ++b) {
      RC_ASSERT(renumbered->Kinship(numbers[a], numbers[b]) == plain->Kinship(a, b));
    }
  }
}

TEST(Kinship, OfUnrelatedFoundersIsNone) {
  const auto pedigree = Pedigree::Of(std::vector<Parents>{{}, {}});
  ASSERT_TRUE(pedigree.ok());
  EXPECT_EQ(pedigree->Kinship(0, 1), 0);
  EXPECT_EQ(pedigree->Kinship(0, 0), 0.5);
  EXPECT_THAT(pedigree->KinshipWithAll(1), ElementsAre(0, 0.5));
}

TEST(Kinship, KnowsAnEmptyPedigree) {
  const auto pedigree = Pedigree::Of(std::vector<Parents>{});
  ASSERT_TRUE(pedigree.ok());
  EXPECT_EQ(pedigree->size(), 0U);
}

TEST(Kinship, CountsAnUnknownParentAsAnUnrelatedFounder) {
  // Half sibs by the sire, once with dams on the books and once without.
  const auto pedigree =
      Pedigree::Of(std::vector<Parents>{{}, {}, {}, {0, 1}, {0, 2}, {0, kUnknown}, {0, kUnknown}});
  ASSERT_TRUE(pedigree.ok());
  EXPECT_EQ(pedigree->Kinship(3, 4), 0.125);
  EXPECT_EQ(pedigree->Kinship(5, 6), 0.125);
}

TEST(Kinship, HandlesALineAsDeepAsThePedigree) {
  // Each animal is an offspring of the last one and of a new founder, written youngest first.
  constexpr Node kGenerations = 200'000;
  std::vector<Parents> animals(kGenerations);
  for (Node i = 0; i + 1 < kGenerations; ++i) animals[i].sire = i + 1;
  const auto pedigree = Pedigree::Of(animals);
  ASSERT_TRUE(pedigree.ok());
  EXPECT_EQ(pedigree->Kinship(0, 1), 0.25);
  EXPECT_EQ(pedigree->Kinship(0, 10), 1.0 / 2048);
  // Halved so often that a double has no number for it.
  EXPECT_EQ(pedigree->Kinship(0, kGenerations - 1), 0);
  EXPECT_EQ(pedigree->KinshipWithAll(0)[1], 0.25);
}

// Source: Wright (1921), F of selfing is 1 - 2^-t; here t is far past the bits of a double.
TEST(Inbreeding, OfALongSelfedLineComesToOneAndNoFurther) {
  constexpr Node kGenerations = 3'000;
  std::vector<Parents> animals(kGenerations);
  for (Node i = 1; i < kGenerations; ++i) animals[i] = {.sire = i - 1, .dam = i - 1};
  const auto pedigree = Pedigree::Of(animals);
  ASSERT_TRUE(pedigree.ok());
  EXPECT_EQ(pedigree->Inbreeding(4), 15.0 / 16);
  EXPECT_THAT(pedigree->Inbreeding(kGenerations - 1), DoubleEq(1));
  EXPECT_LE(pedigree->Inbreeding(kGenerations - 1), 1);
}

TEST(Inbreeding, IsTheSameForAllClutchMatesAsForOneOfEachClutch) {
  // A thousand clutches, of a hundred and of one. Breeders are always the first of their clutch.
  constexpr Node kClutches = 1'000;
  constexpr Node kSize = 100;
  std::vector<Parents> clutches(2);
  std::vector<Parents> mates(2);
  const auto first_of = [](Node family) { return family < 2 ? family : 2 + (family - 2) * kSize; };
  std::mt19937 random(7);
  while (clutches.size() < kClutches) {
    const auto earlier = static_cast<Node>(clutches.size());
    const Parents parents{.sire = static_cast<Node>(random() % earlier),
                          .dam = static_cast<Node>(random() % earlier)};
    clutches.push_back(parents);
    mates.insert(mates.end(), kSize, {first_of(parents.sire), first_of(parents.dam)});
  }
  const auto of_one = Pedigree::Of(clutches);
  const auto of_many = Pedigree::Of(mates);
  ASSERT_TRUE(of_one.ok() && of_many.ok());
  for (Node family = 2; family < kClutches; ++family) {
    const double expected = of_one->Inbreeding(family);
    ASSERT_EQ(of_many->Inbreeding(first_of(family)), expected);
    ASSERT_EQ(of_many->Inbreeding(first_of(family) + kSize - 1), expected);
  }
}

TEST(Pedigree, RefusesAnAnimalThatIsItsOwnAncestor) {
  // 0 is a founder; 4 comes from the cycle 1 -> 3 -> 2 -> 1 and is on none.
  const auto pedigree =
      Pedigree::Of(std::vector<Parents>{{}, {0, 2}, {3, kUnknown}, {kUnknown, 1}, {0, 3}});
  EXPECT_EQ(ReasonOf(pedigree.status()), "PEDIGREE_CYCLE");
  EXPECT_THAT(std::string(pedigree.status().message()), HasSubstr("animal 1 is"));
}

TEST(Pedigree, RefusesAnAnimalThatIsItsOwnParent) {
  EXPECT_EQ(ReasonOf(Pedigree::Of(std::vector<Parents>{{0, kUnknown}}).status()), "PEDIGREE_CYCLE");
  EXPECT_EQ(ReasonOf(Pedigree::Of(std::vector<Parents>{{0, 0}}).status()), "PEDIGREE_CYCLE");
}

TEST(Pedigree, RefusesAParentThatIsNotThere) {
  const auto pedigree = Pedigree::Of(std::vector<Parents>{{}, {0, 2}});
  EXPECT_EQ(ReasonOf(pedigree.status()), "PARENT_UNKNOWN");
  EXPECT_THAT(std::string(pedigree.status().message()), HasSubstr("animal 1 has the parent 2"));
}

}  // namespace
}  // namespace broodpact::kinship
