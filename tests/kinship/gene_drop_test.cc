// Goal: uniqueness and retention are those of the pedigree, and the same on every machine. Method:
// examples whose answer is known, a golden value of the generator, and a law against kinship.

#include "client/kinship/gene_drop.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/kinship/any_pedigree.h"

namespace broodpact::kinship {
namespace {

using ::testing::Each;
using ::testing::ElementsAre;

Pedigree Of(const Lines& lines) {
  auto pedigree = Pedigree::Of(lines);
  EXPECT_TRUE(pedigree.ok()) << pedigree.status();
  return *std::move(pedigree);
}

TEST(GeneDrop, GivesAFounderWithoutKinAllItsGenesForItself) {
  const Pedigree pedigree = Of({.animals = {{}, {}, {0, kUnknown}}});
  const GeneDrop drop = DropGenes(pedigree, std::vector<Node>{1}, {.seed = 3, .drops = 10});
  EXPECT_THAT(drop.uniqueness, ElementsAre(1));
  EXPECT_EQ(drop.retention.size(), 2U);
  EXPECT_EQ(drop.retention[0].part, 0);
  EXPECT_EQ(drop.retention[1].part, 1);
}

// A dam and her only offspring: half of his genes are hers, and the same half of hers is his.
TEST(GeneDrop, GivesDamAndOffspringHalfEach) {
  const Pedigree pedigree = Of({.animals = {{}, {kUnknown, 0}}});
  const GeneDrop drop = DropGenes(pedigree, std::vector<Node>{0, 1}, {.seed = 3, .drops = 50});
  EXPECT_THAT(drop.uniqueness, ElementsAre(0.5, 0.5));
}

// Each of two full sibs has a gene of each parent; that the other got the same is even chance.
TEST(GeneDrop, GivesTwoFullSibsAHalfOnAverage) {
  const Pedigree pedigree = Of({.animals = {{}, {}, {0, 1}, {0, 1}}});
  const GeneDrop drop = DropGenes(pedigree, std::vector<Node>{2, 3}, {.seed = 5, .drops = 20'000});
  EXPECT_NEAR(drop.uniqueness[0], 0.5, 0.018);
  EXPECT_EQ(drop.uniqueness[0], drop.uniqueness[1]);
}

// Of two clutch-mates with two possible sires the sire's genes are alike with a chance of 1/2 if
// they share him, of 1/4 if each draws its own.
TEST(GeneDrop, KeepsTheTwoModelsOfSeveralSiresApart) {
  const auto unique = [](Draw draw) {
    const Pedigree pedigree =
        Of({.animals = {{}, {}, {}, {}, {3, 2}, {3, 2}},
            .stand_ins = {{.node = 3,
                           .possible = {{.animal = 0, .weight = 0.5}, {.animal = 1, .weight = 0.5}},
                           .draw = draw}}});
    return DropGenes(pedigree, std::vector<Node>{4, 5}, {.seed = 5, .drops = 20'000}).uniqueness[0];
  };
  EXPECT_NEAR(unique(Draw::kOneForAll), (0.5 + 0.5) / 2, 0.018);
  EXPECT_NEAR(unique(Draw::kOneForEach), (0.5 + 0.75) / 2, 0.018);
}

TEST(GeneDrop, OfAFullySelfedLineHasOneGeneLeft) {
  std::vector<Parents> animals(1);
  for (Node i = 1; i < 200; ++i) animals.push_back({.sire = i - 1, .dam = i - 1});
  const Pedigree pedigree = Of({.animals = animals});
  const GeneDrop drop = DropGenes(pedigree, std::vector<Node>{199}, {.seed = 9, .drops = 100});
  EXPECT_EQ(drop.retention[0].part, 0.5);
  EXPECT_EQ(drop.uniqueness[0], 1);
}

// The numbers were written down when the generator was: they may not change with machine or
// compiler, nor with how many drops there are besides.
TEST(GeneDrop, IsTheSameForOneSeedEverywhere) {
  const Pedigree pedigree =
      Of({.animals = {{}, {}, {0, 1}, {0, 1}, {2, 3}, {2, 1}, {0, 3}, {4, 5}}});
  const std::vector<Node> living{4, 5, 6, 7};
  const GeneDrop drop = DropGenes(pedigree, living, {.seed = 20'261'125, .drops = 64});
  const GeneDrop again = DropGenes(pedigree, living, {.seed = 20'261'125, .drops = 64});
  EXPECT_EQ(drop.uniqueness, again.uniqueness);
  std::vector<double> copies;
  for (const double part : drop.uniqueness) copies.push_back(part * 128);
  EXPECT_THAT(copies, ElementsAre(10, 23, 41, 0));
  EXPECT_NE(drop.uniqueness, DropGenes(pedigree, living, {.seed = 1, .drops = 64}).uniqueness);
}

// The chance that two genes drawn from an animal and a founder are alike is their kinship;
// retention of a founder by a population of one is twice that when the animal is not inbred through
// it.
RC_GTEST_PROP(ExactRetention, OfOneOffspringIsItsShareOfTheFounder, ()) {
  const auto animals = *AnyOrderedPedigree();
  const auto pedigree = Pedigree::Of(animals);
  RC_ASSERT(pedigree.ok());
  const auto one = *rc::gen::inRange<Node>(0, static_cast<Node>(animals.size()));
  const auto retention = ExactRetention(*pedigree, std::vector<Node>{one});
  if (!retention || pedigree->Inbreeding(one) > 0) return;
  for (const Retention& founder : *retention) {
    RC_ASSERT(founder.part ==
              (founder.founder == one ? 1 : pedigree->Kinship(one, founder.founder) * 2));
  }
}

TEST(ExactRetention, SaysNothingWhereThereAreTooManyWays) {
  std::vector<Parents> animals(2);
  animals.resize(2 + kMeiosesMax, {.sire = 0, .dam = 1});
  std::vector<Node> living;
  for (Node i = 2; i < animals.size(); ++i) living.push_back(i);
  EXPECT_TRUE(ExactRetention(Of({.animals = animals}), living).has_value());
  animals.push_back({.sire = 0, .dam = 1});
  living.push_back(static_cast<Node>(animals.size() - 1));
  EXPECT_FALSE(ExactRetention(Of({.animals = animals}), living).has_value());
}

}  // namespace
}  // namespace broodpact::kinship
