// Goal: several possible sires and related founders count by their weights, as the model that was
// chosen says. Method: published values, a law against an average over all ways in which it may
// have been, examples, and faulty input.

#include "client/kinship/lines.h"

#include <cmath>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "tests/kinship/any_pedigree.h"
#include "tests/kinship/published_cases.h"

namespace broodpact::kinship {
namespace {

using ::testing::HasSubstr;

// The pedigree of a case of multiple_sires.json, every animal in `candidates` out of a stand-in of
// its own, or all out of the same where they share one sire.
Lines LinesOf(const Json& one, Draw draw, const std::map<std::string, Node>& numbers) {
  Lines lines;
  lines.animals.resize(numbers.size());
  const auto number = [&](const Json& name) {
    return name.is_null() ? kUnknown : numbers.at(name.get<std::string>());
  };
  for (const Json& row : one.at("pedigree")) {
    lines.animals[number(row[0])] = {.sire = number(row[1]), .dam = number(row[2])};
  }
  for (const auto& [name, candidates] : one.at("candidates").items()) {
    if (draw == Draw::kOneForEach || lines.stand_ins.empty()) {
      StandIn stand_in{.node = static_cast<Node>(lines.animals.size()), .draw = draw};
      for (const Json& candidate : candidates) {
        stand_in.possible.push_back(
            {.animal = number(candidate[0]), .weight = Fraction(candidate[1])});
      }
      lines.stand_ins.push_back(stand_in);
      lines.animals.emplace_back();
    }
    lines.animals[numbers.at(name)].sire = lines.stand_ins.back().node;
  }
  return lines;
}

void ExpectMatrix(const Json& one, const char* matrix, Draw draw) {
  const auto order = one.at("order").get<std::vector<std::string>>();
  std::map<std::string, Node> numbers;
  for (const std::string& name : order) numbers.emplace(name, static_cast<Node>(numbers.size()));
  const auto pedigree = Pedigree::Of(LinesOf(one, draw, numbers));
  ASSERT_TRUE(pedigree.ok()) << pedigree.status();
  for (std::size_t i = 0; i < order.size(); ++i) {
    const Node first = numbers.at(order[i]);
    for (std::size_t j = 0; j < order.size(); ++j) {
      const Node second = numbers.at(order[j]);
      const double expected = Fraction(one.at(matrix)[i][j]);
      EXPECT_NEAR(2 * pedigree->Kinship(first, second), expected, 1e-15)
          << order[i] << " and " << order[j];
      EXPECT_NEAR(2 * pedigree->KinshipWithAll(first)[second], expected, 1e-15)
          << order[i] << " and " << order[j];
    }
  }
}

// Source: Henderson, J. Anim. Sci. 66 (1988) 1614-1621; values by enumeration of all
// configurations (the "meta" of the file).
TEST(PublishedSires, MeetHendersonWhereEachOffspringDrawsItsOwn) {
  for (const Json& one : CasesOf("multiple_sires")) {
    ExpectMatrix(one, "A_independent", Draw::kOneForEach);
  }
}

TEST(PublishedSires, MeetTheEnumerationWhereClutchMatesShareOne) {
  std::size_t checked = 0;
  for (const Json& one : CasesOf("multiple_sires")) {
    if (!one.contains("A_shared_sire")) continue;
    ExpectMatrix(one, "A_shared_sire", Draw::kOneForAll);
    ++checked;
  }
  EXPECT_EQ(checked, 1U);
}

// Of an only offspring both models say the same.
TEST(PublishedSires, DoNotDependOnTheModelForAnOnlyOffspring) {
  const auto cases = CasesOf("multiple_sires");
  ExpectMatrix(cases.at(1), "A_independent", Draw::kOneForAll);
}

// Quarters: doubles hold their halves without rounding.
std::vector<PossibleSire> AnySires(std::size_t animals) {
  std::vector<PossibleSire> sires;
  for (std::size_t quarters = 4; quarters > 0;) {
    const auto weight = *rc::gen::inRange<std::size_t>(1, quarters + 1);
    quarters -= weight;
    sires.push_back({.animal = *rc::gen::inRange<Node>(0, static_cast<Node>(animals)),
                     .weight = static_cast<double>(weight) / 4});
  }
  return sires;
}

RC_GTEST_PROP(StandIn, ForOneSireOfAllIsTheAverageOverThePossibleSires, ()) {
  auto animals = *AnyOrderedPedigree();
  const std::size_t count = animals.size();
  const auto dam = *rc::gen::inRange<Node>(0, static_cast<Node>(count));
  const auto sires = AnySires(count);
  // Three clutch-mates, and an offspring of two of them.
  const auto with_sire = [&](Node sire) {
    std::vector<Parents> all = animals;
    const auto first = static_cast<Node>(count + 1);
    all.resize(count + 1);
    all.insert(all.end(), 3, {.sire = sire, .dam = dam});
    all.push_back({.sire = first, .dam = first + 1});
    return all;
  };
  const auto pedigree =
      Pedigree::Of(Lines{.animals = with_sire(static_cast<Node>(count)),
                         .stand_ins = {{.node = static_cast<Node>(count), .possible = sires}}});
  RC_ASSERT(pedigree.ok());
  Matrix expected(count + 5, std::vector<double>(count + 5));
  for (const PossibleSire& sire : sires) {
    const Matrix one = TabularKinship(with_sire(sire.animal));
    for (std::size_t i = 0; i < expected.size(); ++i) {
      for (std::size_t j = 0; j < expected.size(); ++j) expected[i][j] += sire.weight * one[i][j];
    }
  }
  for (Node i = 0; i < expected.size(); ++i) {
    for (Node j = 0; j < expected.size(); ++j) {
      if (i == count || j == count) continue;
      RC_ASSERT(std::abs(pedigree->Kinship(i, j) - expected[i][j]) < 1e-15);
    }
  }
}

TEST(StandIn, LacksInWeightWhatAnUnknownFounderMayHaveSired) {
  // 3 and 4 are out of 1 by 0 with a chance of a half, else by a male whom nobody knows.
  const auto shared =
      Pedigree::Of(Lines{.animals = {{}, {}, {}, {2, 1}, {2, 1}},
                         .stand_ins = {{.node = 2, .possible = {{.animal = 0, .weight = 0.5}}}}});
  ASSERT_TRUE(shared.ok());
  EXPECT_EQ(shared->Kinship(0, 3), 0.125);
  EXPECT_EQ(shared->Kinship(3, 4), 0.25);  // full sibs either way
  const auto drawn = Pedigree::Of(Lines{
      .animals = {{}, {}, {}, {2, 1}, {2, 1}},
      .stand_ins = {
          {.node = 2, .possible = {{.animal = 0, .weight = 0.5}}, .draw = Draw::kOneForEach}}});
  ASSERT_TRUE(drawn.ok());
  EXPECT_EQ(drawn->Kinship(3, 4), 0.125 + 0.25 * 0.125);  // both by 0 with a chance of a quarter
}

TEST(StandIn, IsRefusedWhereItsWeightsAreNone) {
  const auto of = [](double weight) {
    return ReasonOf(
        Pedigree::Of(
            Lines{.animals = {{}, {}, {1, kUnknown}},
                  .stand_ins = {{.node = 1, .possible = {{.animal = 0, .weight = weight}}}}})
            .status());
  };
  EXPECT_EQ(of(1), "");
  EXPECT_EQ(of(1.5), "WEIGHTS_WRONG");
  EXPECT_EQ(of(-0.5), "WEIGHTS_WRONG");
  EXPECT_EQ(of(0.0 / 0.0), "WEIGHTS_WRONG");
}

TEST(StandIn, IsRefusedWhereItIsAnAnimalOrNamesNobody) {
  EXPECT_EQ(
      ReasonOf(
          Pedigree::Of(Lines{.animals = {{}, {0, kUnknown}}, .stand_ins = {{.node = 1}}}).status()),
      "STAND_IN_WRONG");
  EXPECT_EQ(
      ReasonOf(
          Pedigree::Of(Lines{.animals = {{}},
                             .stand_ins = {{.node = 0, .possible = {{.animal = 7, .weight = 1}}}}})
              .status()),
      "PARENT_UNKNOWN");
}

TEST(StandIn, OnACycleNamesTheAnimalsOfIt) {
  // 2 may be the sire of its own sire 0.
  const auto pedigree =
      Pedigree::Of(Lines{.animals = {{1, kUnknown}, {}, {0, kUnknown}},
                         .stand_ins = {{.node = 1, .possible = {{.animal = 2, .weight = 1}}}}});
  EXPECT_EQ(ReasonOf(pedigree.status()), "PEDIGREE_CYCLE");
  EXPECT_THAT(std::string(pedigree.status().message()), HasSubstr("by the line 0, 2;"));
}

TEST(RelatedFounders, AreAsCloseAsStatedAndNotInbred) {
  // 0, 1 and 2 are taken as full sibs; 3 is nobody's kin; 4 is out of 0 and 1.
  const auto pedigree = Pedigree::Of(Lines{.animals = {{}, {}, {}, {}, {0, 1}},
                                           .related = {{.founders = {0, 1, 2}, .kinship = 0.25}}});
  ASSERT_TRUE(pedigree.ok());
  EXPECT_EQ(pedigree->Kinship(0, 1), 0.25);
  EXPECT_EQ(pedigree->Kinship(0, 0), 0.5);
  EXPECT_EQ(pedigree->Kinship(2, 3), 0);
  EXPECT_EQ(pedigree->Inbreeding(4), 0.25);
  EXPECT_EQ(pedigree->Kinship(4, 2), 0.25);
  EXPECT_EQ(pedigree->Kinship(4, 4), 0.625);
}

// What is assumed of sibs is what their parents would have given.
RC_GTEST_PROP(RelatedFounders, AreWhatFullSibsOfUnknownParentsAre, ()) {
  const auto animals = *AnyOrderedPedigree();
  Lines related{.animals = animals, .related = {{.kinship = 0.25}}};
  Lines sibs{.animals = animals};
  const auto sire = static_cast<Node>(animals.size());
  sibs.animals.resize(animals.size() + 2);
  for (Node i = 0; i < animals.size(); ++i) {
    if (!(animals[i] == Parents{})) continue;
    related.related[0].founders.push_back(i);
    sibs.animals[i] = {.sire = sire, .dam = sire + 1};
  }
  const auto assumed = Pedigree::Of(related);
  const auto known = Pedigree::Of(sibs);
  RC_ASSERT(assumed.ok() && known.ok());
  for (Node i = 0; i < animals.size(); ++i) {
    std::vector<double> expected = known->KinshipWithAll(i);
    expected.resize(animals.size());
    RC_ASSERT(assumed->KinshipWithAll(i) == expected);
  }
}

TEST(RelatedFounders, AreRefusedWhereTheyAreNoFoundersOrTooClose) {
  const auto of = [](const RelatedFounders& related) {
    return ReasonOf(
        Pedigree::Of(Lines{.animals = {{}, {0, kUnknown}}, .related = {related}}).status());
  };
  EXPECT_EQ(of({.founders = {0}, .kinship = 0.5}), "");
  EXPECT_EQ(of({.founders = {1}, .kinship = 0.1}), "FOUNDER_WRONG");
  EXPECT_EQ(of({.founders = {0, 0}, .kinship = 0.1}), "FOUNDER_WRONG");
  EXPECT_EQ(of({.founders = {9}, .kinship = 0.1}), "FOUNDER_WRONG");
  EXPECT_EQ(of({.founders = {0}, .kinship = 0.6}), "BASE_KINSHIP_WRONG");
}

}  // namespace
}  // namespace broodpact::kinship
