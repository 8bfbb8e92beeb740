#pragma once

// Cases of tests/published/kinship, and pedigrees in which animals have names.

#include <array>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>

#include "client/kinship/pedigree.h"
#include <nlohmann/json.hpp>

namespace broodpact::kinship {

using Json = nlohmann::json;

inline std::string PublishedFile(const std::string& name) {
  return std::string(BROODPACT_PUBLISHED) + "/kinship/" + name;
}

inline std::vector<Json> CasesOf(const std::string& name) {
  std::ifstream file(PublishedFile(name + ".json"));
  return Json::parse(file).at("cases").get<std::vector<Json>>();
}

// "3/16" or "0".
inline double Fraction(const Json& text) {
  std::istringstream in(text.get<std::string>());
  double numerator = 0;
  double denominator = 1;
  char slash = '/';
  in >> numerator >> slash >> denominator;
  return numerator / (in ? denominator : 1);
}

// A pedigree whose animals have names.
class Named {
 public:
  // `rows`: name, sire, dam; parents may be null or "", and may stand after their offspring.
  explicit Named(const std::vector<std::array<std::string, 3>>& rows) {
    for (const auto& row : rows) numbers_.emplace(row[0], static_cast<Node>(numbers_.size()));
    std::vector<Parents> animals(rows.size());
    for (const auto& row : rows) {
      animals[Number(row[0])] = {.sire = Number(row[1]), .dam = Number(row[2])};
    }
    auto pedigree = Pedigree::Of(std::move(animals));
    EXPECT_TRUE(pedigree.ok()) << pedigree.status();
    if (pedigree.ok()) pedigree_.push_back(*std::move(pedigree));
  }

  explicit Named(const Json& rows) : Named(RowsOf(rows)) {}

  static std::vector<std::array<std::string, 3>> RowsOf(const Json& rows) {
    std::vector<std::array<std::string, 3>> result;
    for (const Json& row : rows) {
      const auto name = [&](std::size_t i) {
        return row[i].is_null() ? std::string() : row[i].get<std::string>();
      };
      result.push_back({name(0), name(1), name(2)});
    }
    return result;
  }

  double Inbreeding(const std::string& name) const { return pedigree().Inbreeding(Number(name)); }

  // Kinship of two by name, by all ways of computing it.
  double Kinship(const std::string& first, const std::string& second) const {
    const Node one = Number(first);
    const Node other = Number(second);
    const double kinship = pedigree().Kinship(one, other);
    EXPECT_NEAR(pedigree().KinshipWithAll(one)[other], kinship, 1e-15);
    EXPECT_NEAR(pedigree().KinshipBetween({&one, 1}, {&other, 1})[0], kinship, 1e-15);
    EXPECT_NEAR(pedigree().KinshipOfSets({&one, 1}, {&other, 1}), kinship, 1e-15);
    return kinship;
  }

  Node Number(const std::string& name) const { return name.empty() ? kUnknown : numbers_.at(name); }

  const Pedigree& pedigree() const { return pedigree_.at(0); }
  const std::map<std::string, Node>& numbers() const { return numbers_; }

 private:
  std::map<std::string, Node> numbers_;
  std::vector<Pedigree> pedigree_;  // one, or none if it was refused
};

}  // namespace broodpact::kinship
