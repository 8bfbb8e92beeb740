// Goal: founders, diversity and equivalents are what Lacy defines, exactly, and by gene drop as
// nearly as chance allows. Method: published values, and examples at the edges.

#include "client/kinship/founders.h"

#include <cmath>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/kinship/gene_drop.h"
#include "tests/kinship/published_cases.h"

namespace broodpact::kinship {
namespace {

using ::testing::DoubleEq;
using ::testing::IsEmpty;
using ::testing::SizeIs;

class FounderCase {
 public:
  explicit FounderCase(const Json& one) : named_(one.at("pedigree")) {
    for (const Json& name : one.at("living")) {
      living_.push_back(named_.Number(name.get<std::string>()));
    }
  }

  const Pedigree& pedigree() const { return named_.pedigree(); }
  const std::vector<Node>& living() const { return living_; }
  Node Number(const std::string& name) const { return named_.Number(name); }

 private:
  Named named_;
  std::vector<Node> living_;
};

double RetentionOf(std::span<const Retention> retention, Node founder) {
  for (const Retention& one : retention) {
    if (one.founder == founder) return one.part;
  }
  return -1;
}

// Source: Lacy, Zoo Biology 8 (1989) 111-123; Ballou & Lacy (1995); values by complete enumeration
// of all meioses (the "meta" of the file).
TEST(PublishedFounders, MeetMeanKinshipAndBothGenomeEquivalents) {
  const auto cases = CasesOf("founder_stats");
  EXPECT_THAT(cases, SizeIs(3));
  for (const Json& one : cases) {
    SCOPED_TRACE(one.at("name").get<std::string>());
    const FounderCase known(one);
    const MeanKinship kinship = known.pedigree().MeanKinshipOf(known.living());
    for (std::size_t i = 0; i < known.living().size(); ++i) {
      const auto name = one.at("living")[i].get<std::string>();
      EXPECT_NEAR(kinship.of_each[i], Fraction(one.at("mean_kinship").at(name)), 1e-12) << name;
    }
    EXPECT_NEAR(kinship.overall, Fraction(one.at("population_mean_kinship")), 1e-12);
    EXPECT_NEAR(GeneDiversity(kinship), Fraction(one.at("gene_diversity")), 1e-12);
    EXPECT_NEAR(GenomeEquivalentsByKinship(kinship), one.at("FGE_mean_kinship").get<double>(),
                1e-12);

    const Founders founders = FoundersOf(known.pedigree(), known.living());
    EXPECT_THAT(founders.known, SizeIs(one.at("founder_contribution").size()));
    for (const auto& [name, part] : one.at("founder_contribution").items()) {
      double found = 0;
      for (const Contribution& contribution : founders.known) {
        if (contribution.founder == known.Number(name)) found = contribution.part;
      }
      EXPECT_NEAR(found, Fraction(part), 1e-12) << name;
    }
    EXPECT_EQ(founders.unknown, 0);
    EXPECT_NEAR(founders.equivalents, one.at("founder_equivalents").get<double>(), 1e-12);

    const auto retention = ExactRetention(known.pedigree(), known.living());
    ASSERT_TRUE(retention.has_value());
    for (const auto& [name, part] : one.at("retention").items()) {
      EXPECT_EQ(RetentionOf(*retention, known.Number(name)), Fraction(part)) << name;
    }
    EXPECT_NEAR(GenomeEquivalentsByRetention(founders, *retention),
                one.at("FGE_retention_formula").get<double>(), 1e-12);
    EXPECT_NEAR(GenomesSurviving(*retention), one.at("surviving_founder_genomes").get<double>(),
                1e-12);
  }
}

// 20,000 drops: five standard errors are below 0.018.
TEST(PublishedFounders, MeetRetentionByGeneDropAsNearlyAsChanceAllows) {
  for (const Json& one : CasesOf("founder_stats")) {
    const FounderCase known(one);
    const GeneDrop drop =
        DropGenes(known.pedigree(), known.living(), {.seed = 11, .drops = 20'000});
    for (const auto& [name, part] : one.at("retention").items()) {
      EXPECT_NEAR(RetentionOf(drop.retention, known.Number(name)), Fraction(part), 0.018) << name;
    }
  }
}

TEST(Founders, CountEachUnknownParentAsOneOfItsOwn) {
  // 1 and 2 are out of 0, by males whom nobody knows.
  const auto pedigree = Pedigree::Of(std::vector<Parents>{{}, {kUnknown, 0}, {kUnknown, 0}});
  ASSERT_TRUE(pedigree.ok());
  const Founders founders = FoundersOf(*pedigree, std::vector<Node>{1, 2});
  ASSERT_THAT(founders.known, SizeIs(1));
  EXPECT_EQ(founders.known[0].part, 0.5);
  EXPECT_EQ(founders.unknown, 0.5);
  EXPECT_THAT(founders.equivalents, DoubleEq(1 / (0.25 + 2 * 0.0625)));
}

TEST(Founders, OfSeveralPossibleSiresGiveByTheirWeights) {
  const auto pedigree = Pedigree::Of(Lines{
      .animals = {{}, {}, {}, {}, {3, 2}},
      .stand_ins = {
          {.node = 3, .possible = {{.animal = 0, .weight = 0.5}, {.animal = 1, .weight = 0.25}}}}});
  ASSERT_TRUE(pedigree.ok());
  const Founders founders = FoundersOf(*pedigree, std::vector<Node>{4});
  ASSERT_THAT(founders.known, SizeIs(3));
  EXPECT_EQ(founders.known[0].founder, 2U);
  EXPECT_EQ(founders.known[1].part, 0.25);
  EXPECT_EQ(founders.known[2].part, 0.125);
  EXPECT_EQ(founders.unknown, 0.125);
}

TEST(Founders, ThatLiveAreFoundersOfThemselves) {
  const auto pedigree = Pedigree::Of(std::vector<Parents>{{}, {}, {0, 1}});
  ASSERT_TRUE(pedigree.ok());
  const Founders founders = FoundersOf(*pedigree, std::vector<Node>{0, 1});
  EXPECT_THAT(founders.known, SizeIs(2));
  EXPECT_EQ(founders.equivalents, 2);
}

TEST(Founders, OfNobodyAreNone) {
  const auto pedigree = Pedigree::Of(std::vector<Parents>{{}});
  ASSERT_TRUE(pedigree.ok());
  const MeanKinship kinship = pedigree->MeanKinshipOf({});
  EXPECT_EQ(GenomeEquivalentsByKinship(kinship), 0);
  const Founders founders = FoundersOf(*pedigree, {});
  EXPECT_THAT(founders.known, IsEmpty());
  EXPECT_EQ(founders.equivalents, 0);
  EXPECT_EQ(GenomeEquivalentsByRetention(founders, {}), 0);
}

}  // namespace
}  // namespace broodpact::kinship
