// Goal: the divisor methods give what others published for them. Method: every case of
// tests/published/apportion for Sainte-Lague ("webster"), D'Hondt ("jefferson"), Adams and
// Huntington-Hill, exactly; where the table has a tie, our result is one of the acceptable ones and
// does not depend on the order of the input. Dean's method, which some tables have too, is not
// ours.
//
// Sources (in full in the "meta" of each file):
//   published_examples     official results: Bundestag 2009 and New Zealand 2020 (Sainte-Lague),
//                          Austria 2013 (D'Hondt); Balinski & Young, Amer. Math. Monthly 82 (1975)
//   us_house_2020          US Census Bureau, 2020 apportionment, table 1 (Huntington-Hill)
//   alabama_paradox_1880   US Census 1880; Balinski & Young, Fair Representation (1982), ch. 5
//   carry_over, clutch_tables, ties_and_edges   exact rational arithmetic, computed for this
//   project

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/shares/method.h"
#include "tests/shares/any_terms.h"
#include "tests/shares/published_cases.h"

namespace broodpact::shares {
namespace {

using ::testing::Contains;
using ::testing::SizeIs;

const std::vector<std::pair<Method, std::string>> kColumns = {
    {Method::kSainteLague, "webster"},
    {Method::kDHondt, "jefferson"},
    {Method::kAdams, "adams"},
    {Method::kHuntingtonHill, "huntington_hill"}};

// Shares out; keeper ids follow the table, whatever the order of `parties`. Seats come back by
// place in the table.
Seats SeatsOf(Method method, const std::vector<Party>& parties, std::uint32_t seats) {
  const auto given = ShareBy(method, seats, ClaimantsOf(parties));
  EXPECT_TRUE(given.ok()) << given.status();
  Seats by_place(1 + std::ranges::max(parties, {}, &Party::place).place);
  if (given.ok()) PutAtPlaces(parties, *given, by_place);
  return by_place;
}

// The result, which must be the same for the table from front to back, from back to front and
// turned by one.
Seats SeatsInAnyOrder(Method method, const Json& weights, std::uint32_t seats) {
  std::vector<Party> parties = PartiesOf(weights);
  const Seats result = SeatsOf(method, parties, seats);
  std::ranges::reverse(parties);
  EXPECT_EQ(SeatsOf(method, parties, seats), result);
  std::ranges::rotate(parties, parties.begin() + 1);
  EXPECT_EQ(SeatsOf(method, parties, seats), result);
  return result;
}

// Seats with at least `minimum` each, as the historical tables have them: who would have fewer has
// the minimum, and the rest is shared among the others.
Seats SeatsWithMinimum(Method method, const Json& weights, std::uint32_t seats,
                       std::uint32_t minimum) {
  std::vector<Party> parties = PartiesOf(weights);
  Seats result(parties.size(), minimum);
  while (!parties.empty()) {
    const Seats given = SeatsOf(method, parties, seats);
    const auto is_lifted = [&](const Party& party) { return given[party.place] < minimum; };
    const auto lifted = std::erase_if(parties, is_lifted);
    seats -= static_cast<std::uint32_t>(lifted) * minimum;
    if (lifted > 0) continue;
    for (const Party& party : parties) result[party.place] = given[party.place];
    break;
  }
  return result;
}

// All columns of ours in a case; how many there were.
int MeetsColumns(const Json& one) {
  int met = 0;
  for (const auto& [method, column] : kColumns) {
    if (!one.at("expected").contains(column)) continue;
    ++met;
    const auto seats = one.at("seats").get<std::uint32_t>();
    const Seats result = one.contains("minimum")
                             ? SeatsWithMinimum(method, one.at("weights"), seats,
                                                one.at("minimum").get<std::uint32_t>())
                             : SeatsInAnyOrder(method, one.at("weights"), seats);
    EXPECT_EQ(result, one.at("expected").at(column).get<Seats>())
        << one.at("name") << " by " << column;
  }
  return met;
}

int MeetsCasesOf(const std::string& name) {
  int met = 0;
  for (const Json& one : CasesOf(name)) met += MeetsColumns(one);
  return met;
}

TEST(PublishedMethod, MeetsTheWorkedExamplesAndOfficialResults) {
  EXPECT_EQ(MeetsCasesOf("published_examples"), 7 * 4);
}

// The two cases beside the first one are New York with 88 and with 89 people more.
TEST(PublishedMethod, MeetsTheHouseOf2020ToThePersonWhoMadeTheDifference) {
  EXPECT_EQ(MeetsCasesOf("us_house_2020"), 4 + 1 + 1);
}

TEST(PublishedMethod, MeetsTheTablesOf1880WithTheirMinimumOfOne) {
  EXPECT_EQ(MeetsCasesOf("alabama_paradox_1880"), 2 * 4);
}

TEST(PublishedMethod, MeetsTheTablesOfClutches) {
  int met = 0;
  for (const Json& one : CasesOf("clutch_tables")) {
    for (const Json& row : one.at("rows")) {
      for (const auto& [method, column] : kColumns) {
        if (!row.contains(column)) continue;
        ++met;
        const Json& expected = row.at(column);
        const Seats seats =
            SeatsInAnyOrder(method, one.at("shares"), row.at("N").get<std::uint32_t>());
        EXPECT_TRUE(expected.is_array() ? seats == expected.get<Seats>()
                                        : SettlesTie(seats, expected))
            << one.at("shares") << " of " << row.at("N") << " by " << column;
      }
    }
  }
  EXPECT_EQ(met, 94);
}

TEST(PublishedMethod, SettlesTiesAcceptablyAndMeetsTheEdges) {
  const auto cases = CasesOf("ties_and_edges");
  EXPECT_THAT(cases, SizeIs(9));
  for (const Json& one : cases) {
    MeetsColumns(one);
    if (!one.contains("ties")) continue;
    for (const auto& [method, column] : kColumns) {
      if (!one.at("ties").contains(column)) continue;
      const Json& tie = one.at("ties").at(column);
      const Seats seats =
          SeatsInAnyOrder(method, one.at("weights"), one.at("seats").get<std::uint32_t>());
      EXPECT_THAT(tie.at("acceptable").get<std::vector<Seats>>(), Contains(seats))
          << one.at("name") << " by " << column;
      EXPECT_TRUE(SettlesTie(seats, tie)) << one.at("name") << " by " << column;
    }
  }
}

TEST(PublishedMethod, MeetsRunningTotalsBySainteLague) {
  int met = 0;
  for (const Json& one : CasesOf("carry_over")) {
    if (one.at("kind") != "cumulative_webster") continue;
    Seats before(one.at("shares").size());
    for (const Json& row : one.at("rows")) {
      ++met;
      const Seats total = SeatsInAnyOrder(Method::kSainteLague, one.at("shares"),
                                          row.at("cumulative_total").get<std::uint32_t>());
      EXPECT_EQ(total, row.at("cumulative").get<Seats>());
      Seats clutch = total;
      for (std::size_t i = 0; i < clutch.size(); ++i) clutch[i] -= before[i];
      EXPECT_EQ(clutch, row.at("this_clutch").get<Seats>());
      before = total;
    }
  }
  EXPECT_EQ(met, 4 + 5 + 7);
}

}  // namespace
}  // namespace broodpact::shares
