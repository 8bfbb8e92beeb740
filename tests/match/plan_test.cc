// Goal: a plan is the best by its stated rule, within all bounds, whatever the order in which the
// animals come; and what it is compared with is what it says. Method: small seasons with kin, ties
// and vetoes, against every choice that there is; examples of what keepers fear.

#include "client/match/plan.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <random>
#include <set>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/match/assignment.h"

namespace broodpact::match {
namespace {

using kinship::kUnknown;
using kinship::Parents;
using ::testing::IsEmpty;
using ::testing::SizeIs;

template <typename AnyId>
AnyId Numbered(std::size_t number) {
  AnyId id;
  id.bytes.back() = static_cast<std::uint8_t>(number + 1);
  return id;
}

// Males and females of a pedigree: nodes 0 .. males-1, then the females, then their parents.
struct Herd {
  std::vector<Parents> parents{};
  std::vector<PlanMale> males{};
  std::vector<PlanFemale> females{};
  std::set<std::pair<AnimalId, AnimalId>> vetoes{};
  PlanBounds bounds{};

  Season SeasonOf(const kinship::Pedigree& pedigree) const {
    Season season{.pedigree = pedigree, .males = males, .females = females, .bounds = bounds};
    for (kinship::Node node = 0; node < males.size() + females.size(); ++node) {
      season.living.push_back(node);
    }
    season.journey = [this](const PlanMale& male, const PlanFemale& female) {
      const int apart = std::abs(male.holder.bytes.back() - female.holder.bytes.back());
      return Journey{.vetoed = vetoes.contains({male.animal, female.animal}),
                     .km = static_cast<std::uint32_t>(100 * apart)};
    };
    return season;
  }

  PlanAnswer Plan() const {
    const auto pedigree = kinship::Pedigree::Of(parents);
    EXPECT_TRUE(pedigree.ok());
    return PlanSeason(SeasonOf(*pedigree));
  }
};

Herd HerdOf(std::size_t males, std::size_t females) {
  Herd herd;
  herd.parents.resize(males + females + 4);
  for (std::size_t i = 0; i < males; ++i) {
    herd.males.push_back({.animal = Numbered<AnimalId>(i),
                          .holder = Numbered<KeeperId>(i),
                          .node = static_cast<kinship::Node>(i)});
  }
  for (std::size_t j = 0; j < females; ++j) {
    herd.females.push_back({.animal = Numbered<AnimalId>(100 + j),
                            .holder = Numbered<KeeperId>(j),
                            .node = static_cast<kinship::Node>(males + j),
                            .sac_chance = 0.5});
  }
  return herd;
}

// Few values for each number, so that there are ties; one pair of parents for many, so that there
// are sibs.
rc::Gen<Herd> AnyHerd() {
  return rc::gen::exec([] {
    Herd herd = HerdOf(*rc::gen::inRange<std::size_t>(1, 4), *rc::gen::inRange<std::size_t>(1, 4));
    const auto founder = static_cast<kinship::Node>(herd.parents.size() - 4);
    for (std::size_t i = 0; i < founder; ++i) {
      if (*rc::gen::inRange(0, 3) == 0) continue;
      herd.parents[i] = {.sire = founder + *rc::gen::element(0U, 1U),
                         .dam = founder + *rc::gen::element(2U, 3U)};
    }
    for (PlanMale& male : herd.males) {
      male.capacity = *rc::gen::inRange<std::uint32_t>(1, 3);
      male.lasting = *rc::gen::element(0.0, 0.5, 1.0);
      male.holder = Numbered<KeeperId>(*rc::gen::inRange<std::size_t>(0, 3));
    }
    for (PlanFemale& female : herd.females) {
      female.sac_chance = *rc::gen::element(0.0, 0.4, 0.8);
      for (const PlanMale& male : herd.males) {
        if (*rc::gen::inRange(0, 4) == 0) herd.vetoes.emplace(male.animal, female.animal);
      }
    }
    herd.bounds.inbreeding_max =
        *rc::gen::element<std::optional<double>>(std::nullopt, 0, 0.125, 0.25);
    herd.bounds.distance_km_max =
        *rc::gen::element<std::optional<std::uint32_t>>(std::nullopt, 100);
    return herd;
  });
}

// The most that any choice is worth, in millionths, female by female.
std::int64_t BestByTryingAll(const Herd& herd, std::vector<std::uint32_t> turns, std::size_t female,
                             const std::vector<std::vector<std::int64_t>>& worths) {
  if (female == herd.females.size()) return 0;
  std::int64_t best = BestByTryingAll(herd, turns, female + 1, worths);
  for (std::size_t i = 0; i < herd.males.size(); ++i) {
    if (turns[i] == 0 || worths[i][female] <= 0) continue;
    --turns[i];
    best = std::max(best, worths[i][female] + BestByTryingAll(herd, turns, female + 1, worths));
    ++turns[i];
  }
  return best;
}

std::int64_t MillionthsOf(const PlannedPair& pair) {
  return std::llround(pair.sacs * pair.gene_diversity * 1e6);
}

std::int64_t MillionthsOf(const Planned& planned) {
  std::int64_t sum = 0;
  for (const PlannedPair& pair : planned.pairs) sum += MillionthsOf(pair);
  return sum;
}

// The rule of the header, written down a second time.
std::int64_t NaiveWorth(const Herd& herd, const kinship::Pedigree& pedigree, const PlanMale& male,
                        const PlanFemale& female) {
  const double inbreeding = pedigree.Kinship(male.node, female.node);
  if (herd.vetoes.contains({male.animal, female.animal})) return 0;
  if (inbreeding > herd.bounds.inbreeding_max.value_or(1)) return 0;
  const int apart = std::abs(male.holder.bytes.back() - female.holder.bytes.back());
  if (100U * static_cast<unsigned>(apart) > herd.bounds.distance_km_max.value_or(1'000)) return 0;
  double turns = 0;
  for (const PlanMale& one : herd.males) turns += one.capacity;
  const double sacs = std::max(1.0, std::min(turns, static_cast<double>(herd.females.size())));
  double living = 0;
  const std::size_t count = herd.males.size() + herd.females.size();
  for (kinship::Node node = 0; node < count; ++node) {
    living += (pedigree.Kinship(male.node, node) + pedigree.Kinship(female.node, node)) / 2;
  }
  living /= static_cast<double>(count);
  const double sibs = (pedigree.Kinship(male.node, male.node) +
                       pedigree.Kinship(female.node, female.node) + 2 * inbreeding) /
                      4;
  const double kinship = sibs / sacs + living * (1 - 1 / sacs);
  return std::llround(male.lasting * female.sac_chance * (1 - kinship) * 1e6);
}

RC_GTEST_PROP(PlanSeason, IsWorthAsMuchAsTheBestOfAllChoices, ()) {
  const Herd herd = *AnyHerd();
  const auto pedigree = kinship::Pedigree::Of(herd.parents);
  std::vector<std::vector<std::int64_t>> worths;
  std::vector<std::uint32_t> turns;
  for (const PlanMale& male : herd.males) {
    turns.push_back(male.capacity);
    worths.emplace_back();
    for (const PlanFemale& female : herd.females) {
      worths.back().push_back(NaiveWorth(herd, *pedigree, male, female));
    }
  }
  const std::int64_t best = BestByTryingAll(herd, turns, 0, worths);
  const PlanAnswer answer = PlanSeason(herd.SeasonOf(*pedigree));
  // A worth that lies between two millionths may be rounded either way.
  RC_ASSERT(std::abs(MillionthsOf(answer.plan) - best) <= 4);
}

RC_GTEST_PROP(PlanSeason, KeepsToCapacitiesVetoesAndCeilings, ()) {
  const Herd herd = *AnyHerd();
  const PlanAnswer answer = herd.Plan();
  for (const Planned* planned : {&answer.plan, &answer.no_exchange, &answer.nearest}) {
    std::map<AnimalId, std::uint32_t> times;
    for (const PlannedPair& pair : planned->pairs) {
      RC_ASSERT(!herd.vetoes.contains({pair.male, pair.female}));
      RC_ASSERT(pair.inbreeding <= herd.bounds.inbreeding_max.value_or(1));
      RC_ASSERT(pair.sacs > 0);
      RC_ASSERT(++times[pair.female] == 1U);
      ++times[pair.male];
    }
    for (const PlanMale& male : herd.males) RC_ASSERT(times[male.animal] <= male.capacity);
    RC_ASSERT(planned->gene_diversity.has_value() == !planned->pairs.empty());
  }
  for (const PlannedPair& pair : answer.no_exchange.pairs) RC_ASSERT(!pair.travels);
  RC_ASSERT(answer.plan.worth >= answer.no_exchange.worth - 1e-5);
  RC_ASSERT(answer.plan.worth >= answer.nearest.worth - 1e-5);
}

RC_GTEST_PROP(PlanSeason, DoesNotDependOnTheOrderOfTheAnimals, ()) {
  Herd herd = *AnyHerd();
  const PlanAnswer before = herd.Plan();
  std::mt19937 random(*rc::gen::arbitrary<std::uint32_t>());
  std::ranges::shuffle(herd.males, random);
  std::ranges::shuffle(herd.females, random);
  const PlanAnswer after = herd.Plan();
  RC_ASSERT(before.plan.pairs == after.plan.pairs);
  RC_ASSERT(before.no_exchange.pairs == after.no_exchange.pairs);
  RC_ASSERT(before.nearest.pairs == after.nearest.pairs);
}

// Gene diversity of all offspring kept: the kinship of every two of them, sac by sac.
RC_GTEST_PROP(PlanSeason, KnowsTheGeneDiversityOfTheOffspringTogether, ()) {
  const Herd herd = *AnyHerd();
  const auto pedigree = kinship::Pedigree::Of(herd.parents);
  const Planned plan = PlanSeason(herd.SeasonOf(*pedigree)).plan;
  if (plan.pairs.empty()) return;
  std::map<AnimalId, kinship::Node> nodes;
  for (const PlanMale& male : herd.males) nodes[male.animal] = male.node;
  for (const PlanFemale& female : herd.females) nodes[female.animal] = female.node;
  double kinship = 0;
  for (const PlannedPair& one : plan.pairs) {
    for (const PlannedPair& other : plan.pairs) {
      double of_two = 0;
      for (const AnimalId& a : {one.male, one.female}) {
        for (const AnimalId& b : {other.male, other.female}) {
          of_two += pedigree->Kinship(nodes[a], nodes[b]) / 4;
        }
      }
      kinship += of_two * one.sacs * other.sacs;
    }
  }
  RC_ASSERT(std::abs(*plan.gene_diversity - (1 - kinship / plan.sacs / plan.sacs)) < 1e-12);
}

TEST(PlanSeason, KeepsSibsApartWhereItCan) {
  Herd herd = HerdOf(2, 2);
  // Male 0 and female 0 are sibs, male 1 and female 1 too.
  herd.parents[0] = herd.parents[2] = {.sire = 4, .dam = 5};
  herd.parents[1] = herd.parents[3] = {.sire = 6, .dam = 7};
  const PlanAnswer answer = herd.Plan();
  ASSERT_THAT(answer.plan.pairs, SizeIs(2));
  EXPECT_EQ(answer.plan.pairs[0].female, Numbered<AnimalId>(101));
  EXPECT_EQ(answer.plan.inbreeding, 0);
  EXPECT_EQ(answer.no_exchange.inbreeding, 0.25);
  EXPECT_EQ(answer.nearest.inbreeding, 0.25);
  EXPECT_GT(*answer.plan.gene_diversity, 0.4);
  EXPECT_EQ(answer.plan.journeys, 2U);
  EXPECT_EQ(answer.no_exchange.journeys, 0U);
}

TEST(PlanSeason, ACeilingThatLeavesNoPlanIsCountedOut) {
  Herd herd = HerdOf(1, 2);
  herd.parents[0] = herd.parents[1] = herd.parents[2] = {.sire = 3, .dam = 4};
  herd.bounds.inbreeding_max = 0.2;
  const PlanAnswer answer = herd.Plan();
  EXPECT_THAT(answer.plan.pairs, IsEmpty());
  EXPECT_EQ(answer.plan.gene_diversity, std::nullopt);
  EXPECT_EQ(answer.obstacles.pairs, 2U);
  EXPECT_EQ(answer.obstacles.inbred, 2U);
  EXPECT_EQ(answer.obstacles.possible(), 0U);
  EXPECT_EQ(answer.obstacles.inbreeding_min, 0.25);
}

TEST(PlanSeason, OfNobodyIsNothing) {
  EXPECT_THAT(HerdOf(0, 0).Plan().plan.pairs, IsEmpty());
  EXPECT_THAT(HerdOf(2, 0).Plan().plan.pairs, IsEmpty());
  EXPECT_THAT(HerdOf(0, 2).Plan().plan.pairs, IsEmpty());
}

TEST(PlanSeason, OfEqualPlansTakesTheShorterJourneys) {
  const Herd herd = HerdOf(3, 3);  // all unrelated: any three pairs are worth the same
  const PlanAnswer answer = herd.Plan();
  ASSERT_THAT(answer.plan.pairs, SizeIs(3));
  EXPECT_EQ(answer.plan.journeys, 0U);
}

}  // namespace
}  // namespace broodpact::match
