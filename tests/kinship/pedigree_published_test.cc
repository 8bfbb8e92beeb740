// Goal: kinship and inbreeding are what others published. Method: every pedigree of
// tests/published/kinship that states kinships or inbreeding, to the tolerance that its file
// states.
//
// Sources (in full in the "meta" of each file):
//   textbook_pairs     Wright, Amer. Nat. 56 (1922) 330-338, and textbook tables of relationships
//   tabular_example    Mrode, Linear Models for the Prediction of Animal Breeding Values, table 2.1
//   habsburg_29        Alvarez, Ceballos & Quinteiro, PLoS ONE 4 (2009) e5174
//   jicaque            Chapman & Jacquard (1971), Les Indiens Jicaques de Honduras
//   human_sample_55    Sinnwell, Therneau & Schaid, Human Heredity 78 (2014) 91-93
//   regular_systems    Wright, Genetics 6 (1921) 124-143
//   synthetic_*        tabular method, Meuwissen & Luo and R kinship2, computed for this project

#include <array>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/kinship/pedigree.h"
#include "tests/kinship/published_cases.h"

namespace broodpact::kinship {
namespace {

using ::testing::SizeIs;

TEST(PublishedKinship, MeetsTheTextbookPairs) {
  const auto cases = CasesOf("textbook_pairs");
  EXPECT_THAT(cases, SizeIs(16));
  for (const Json& one : cases) {
    const Named pedigree(one.at("pedigree"));
    const auto first = one.at("pair")[0].get<std::string>();
    const auto second = one.at("pair")[1].get<std::string>();
    EXPECT_EQ(pedigree.Kinship(first, second), Fraction(one.at("kinship"))) << one.at("name");
    if (one.at("offspring_F").is_null()) continue;
    Json rows = one.at("pedigree");
    rows.push_back({"child", first, second});
    EXPECT_EQ(Named(rows).Inbreeding("child"), Fraction(one.at("offspring_F"))) << one.at("name");
  }
}

TEST(PublishedKinship, MeetsTheTabularExample) {
  for (const Json& one : CasesOf("tabular_example")) {
    const Named pedigree(one.at("pedigree"));
    const auto order = one.at("order").get<std::vector<std::string>>();
    ASSERT_THAT(order, SizeIs(6));
    for (std::size_t i = 0; i < order.size(); ++i) {
      EXPECT_EQ(pedigree.Inbreeding(order[i]), Fraction(one.at("F")[i])) << order[i];
      for (std::size_t j = 0; j < order.size(); ++j) {
        // A relationship is twice a kinship.
        EXPECT_EQ(2 * pedigree.Kinship(order[i], order[j]), Fraction(one.at("A")[i][j]))
            << order[i] << " and " << order[j];
      }
    }
  }
}

TEST(PublishedKinship, MeetsTheHabsburgs) {
  const auto cases = CasesOf("habsburg_29");
  ASSERT_THAT(cases, SizeIs(1));
  const Named pedigree(cases[0].at("pedigree"));
  const Json& expected = cases[0].at("F");
  for (const auto& [name, number] : pedigree.numbers()) {
    EXPECT_EQ(pedigree.Inbreeding(name),
              expected.contains(name) ? Fraction(expected.at(name)) : 0.0)
        << name;
  }
  EXPECT_EQ(pedigree.Inbreeding("Charles II"), 473.0 / 2048);
}

TEST(PublishedKinship, MeetsTheJicaque) {
  const auto cases = CasesOf("jicaque");
  ASSERT_THAT(cases, SizeIs(1));
  const Named pedigree(cases[0].at("pedigree"));
  for (const auto& [name, number] : pedigree.numbers()) {
    EXPECT_EQ(pedigree.Inbreeding(name), Fraction(cases[0].at("F").at(name))) << name;
  }
  EXPECT_EQ(pedigree.Kinship("Julio", "Mencha"), Fraction(cases[0].at("kinship_Julio_Mencha")));
  const auto order = cases[0].at("kinship_matrix_order").get<std::vector<std::string>>();
  for (std::size_t i = 0; i < order.size(); ++i) {
    for (std::size_t j = 0; j < order.size(); ++j) {
      EXPECT_EQ(pedigree.Kinship(order[i], order[j]), Fraction(cases[0].at("kinship_matrix")[i][j]))
          << order[i] << " and " << order[j];
    }
  }
}

TEST(PublishedKinship, MeetsTwoFamiliesOfFiftyFive) {
  const auto cases = CasesOf("human_sample_55");
  ASSERT_THAT(cases, SizeIs(1));
  const Named pedigree(cases[0].at("pedigree"));
  std::map<std::pair<std::string, std::string>, double> expected;
  for (const Json& row : cases[0].at("kinship_pairs")) {
    expected[{row[0].get<std::string>(), row[1].get<std::string>()}] = Fraction(row[2]);
  }
  EXPECT_FALSE(expected.empty());
  // The file lists every pair that is kin, the lower name first: all others are not.
  for (const auto& [first, first_number] : pedigree.numbers()) {
    for (const auto& [second, second_number] : pedigree.numbers()) {
      if (!(first < second)) continue;
      const auto found = expected.find({first, second});
      EXPECT_EQ(pedigree.Kinship(first, second), found == expected.end() ? 0 : found->second)
          << first << " and " << second;
    }
  }
}

void ExpectSynthetic(const std::string& name, std::size_t count) {
  std::ifstream file(PublishedFile(name + ".csv"));
  std::string line;
  std::getline(file, line);
  ASSERT_EQ(line, "id,sire,dam,F");
  std::vector<std::array<std::string, 3>> rows;
  std::vector<double> expected;
  while (std::getline(file, line)) {
    std::istringstream in(line);
    std::array<std::string, 3> row;
    for (std::string& cell : row) std::getline(in, cell, ',');
    std::string inbreeding;
    std::getline(in, inbreeding);
    rows.push_back(row);
    expected.push_back(std::stod(inbreeding));
  }
  ASSERT_THAT(rows, SizeIs(count));
  const Named pedigree(rows);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    EXPECT_NEAR(pedigree.Inbreeding(rows[i][0]), expected[i], 1e-12) << rows[i][0];
  }
}

TEST(PublishedKinship, MeetsTheSyntheticPedigreeOfSixty) {
  ExpectSynthetic("synthetic_60", 60);
}

TEST(PublishedKinship, MeetsTheSyntheticPedigreeOfTwoThousand) {
  ExpectSynthetic("synthetic_2000", 2'000);
}

// Inbreeding by generation under a system of mating. Returns one of each generation of `count`.
using Mating = std::vector<double> (*)(std::size_t count);

std::vector<double> FullSibMating(std::size_t count) {
  std::vector<Parents> animals(2);
  for (Node i = 2; i < 2 * count; i += 2) {
    animals.insert(animals.end(), 2, {.sire = i - 2, .dam = i - 1});
  }
  const auto pedigree = Pedigree::Of(animals);
  std::vector<double> inbreeding;
  for (Node i = 0; i < 2 * count; i += 2) inbreeding.push_back(pedigree->Inbreeding(i));
  return inbreeding;
}

std::vector<double> Backcross(std::size_t count) {
  // Animal 0 is A; each of the rest is an offspring of A and the one before it, the first a
  // founder.
  std::vector<Parents> animals(2);
  for (Node i = 2; i <= count; ++i) animals.push_back({.sire = 0, .dam = i - 1});
  const auto pedigree = Pedigree::Of(animals);
  std::vector<double> inbreeding;
  for (Node i = 1; i <= count; ++i) inbreeding.push_back(pedigree->Inbreeding(i));
  return inbreeding;
}

std::vector<double> Selfing(std::size_t count) {
  std::vector<Parents> animals(1);
  for (Node i = 1; i < count; ++i) animals.push_back({.sire = i - 1, .dam = i - 1});
  const auto pedigree = Pedigree::Of(animals);
  std::vector<double> inbreeding;
  for (Node i = 0; i < count; ++i) inbreeding.push_back(pedigree->Inbreeding(i));
  return inbreeding;
}

// Each generation is one male and his half sisters, as many lines of females as generations: the
// next male comes from a line that is not used again, so that every dam is a half sister of every
// other and no two are closer.
std::vector<double> HalfSibMating(std::size_t count) {
  std::vector<Parents> animals(count + 2);  // founders: a male, and a female for each line
  Node sire = 0;
  std::vector<Node> females(count + 1);
  for (std::size_t line = 0; line <= count; ++line) females[line] = static_cast<Node>(line + 1);
  std::vector<Node> of_generation{0};
  while (of_generation.size() < count) {
    std::vector<Node> daughters;
    for (const Node female : females) {
      daughters.push_back(static_cast<Node>(animals.size()));
      animals.push_back({.sire = sire, .dam = female});
    }
    sire = daughters.back();  // he takes the place of a daughter in the last line
    daughters.pop_back();
    females = daughters;
    of_generation.push_back(sire);
  }
  const auto pedigree = Pedigree::Of(animals);
  std::vector<double> inbreeding;
  for (const Node animal : of_generation) inbreeding.push_back(pedigree->Inbreeding(animal));
  return inbreeding;
}

TEST(PublishedKinship, MeetsTheRegularSystemsOfMating) {
  const std::map<std::string, Mating> systems{
      {"full_sib", FullSibMating},
      {"repeated_backcross_to_noninbred_parent_A: x_t = A * x_{t-1}", Backcross},
      {"selfing", Selfing},
      {"half_sib (infinite half sisters per male)", HalfSibMating}};
  std::size_t checked = 0;
  for (const Json& one : CasesOf("regular_systems")) {
    const auto system = systems.find(one.at("system").get<std::string>());
    if (system == systems.end()) continue;
    ++checked;
    const Json& expected = one.at("F");
    const std::vector<double> inbreeding = system->second(expected.size());
    ASSERT_THAT(inbreeding, SizeIs(expected.size()));
    for (std::size_t t = 0; t < inbreeding.size(); ++t) {
      EXPECT_NEAR(inbreeding[t], Fraction(expected[t]), 1e-15) << system->first << ' ' << t;
    }
  }
  EXPECT_EQ(checked, systems.size());
}

}  // namespace
}  // namespace broodpact::kinship
