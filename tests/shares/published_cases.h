#pragma once

// The published cases of apportionment: tests/published/apportion, and how a tie in them is read.

#include <cstdint>
#include <fstream>
#include <string>
#include <vector>

#include "client/shares/claimant.h"
#include "tests/shares/any_terms.h"
#include <nlohmann/json.hpp>

namespace broodpact::shares {

using Json = nlohmann::json;
using Seats = std::vector<std::uint32_t>;

inline std::vector<Json> CasesOf(const std::string& name) {
  std::ifstream file(std::string(BROODPACT_PUBLISHED) + "/apportion/" + name + ".json");
  return Json::parse(file).at("cases").get<std::vector<Json>>();
}

struct Party {
  std::size_t place = 0;     // in the table
  std::uint64_t weight = 0;  // 0: no share, so no claimant
};

inline std::vector<Party> PartiesOf(const Json& weights) {
  std::vector<Party> parties;
  for (const Json& weight : weights) {
    parties.push_back({.place = parties.size(), .weight = weight.get<std::uint64_t>()});
  }
  return parties;
}

// Those of the parties that have a weight, in their order; keeper ids follow the table.
inline std::vector<Claimant> ClaimantsOf(const std::vector<Party>& parties) {
  std::vector<Claimant> claimants;
  for (const Party& party : parties) {
    if (party.weight == 0) continue;
    claimants.push_back(
        {.keeper = Keeper(static_cast<std::uint32_t>(party.place) + 1), .weight = party.weight});
  }
  return claimants;
}

// What was given to ClaimantsOf(parties), put at the places of the table; `by_place` has room.
template <typename Given>
void PutAtPlaces(const std::vector<Party>& parties, const std::vector<Given>& given,
                 std::vector<Given>& by_place) {
  auto next = given.begin();
  for (const Party& party : parties) {
    if (party.weight > 0) by_place[party.place] = *next++;
  }
}

// Whether `seats` is `base` with one more for `at_stake` of the tied.
inline bool SettlesTie(const Seats& seats, const Json& tie) {
  Seats rest = seats;
  std::uint32_t extra = 0;
  for (const Json& place : tie.at("tied")) {
    const auto i = place.get<std::size_t>();
    if (rest[i] == tie.at("base")[i].get<std::uint32_t>() + 1) {
      --rest[i];
      ++extra;
    }
  }
  return rest == tie.at("base").get<Seats>() && extra == tie.at("at_stake").get<std::uint32_t>();
}

}  // namespace broodpact::shares
