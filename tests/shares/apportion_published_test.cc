// Goal: largest remainder gives what others published for it. Method: every case of
// tests/published/apportion that concerns Hamilton's method, exactly; where the table has a tie,
// our result is one of the acceptable ones and does not depend on the order of the input.
//
// Sources (in full in the "meta" of each file):
//   published_examples     Balinski & Young, Amer. Math. Monthly 82 (1975) 701-730; official
//   results us_house_2020          US Census Bureau, 2020 apportionment, table 1
//   alabama_paradox_1880   US Census 1880; Balinski & Young, Fair Representation (1982), ch. 5
//   clutch_tables, ties_and_edges   exact rational arithmetic, computed for this project

#include <algorithm>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/shares/apportion.h"
#include "tests/shares/any_terms.h"
#include "tests/shares/published_cases.h"

namespace broodpact::shares {
namespace {

using ::testing::Contains;
using ::testing::SizeIs;

// Shares out; keeper ids follow the table, whatever the order of `parties`. Awards come back by
// place in the table.
std::vector<Award> AwardsOf(const std::vector<Party>& parties, std::uint32_t seats) {
  std::vector<Award> by_place(parties.size());
  const auto awards = ShareByLargestRemainder(seats, ClaimantsOf(parties));
  EXPECT_TRUE(awards.ok()) << awards.status();
  if (awards.ok()) PutAtPlaces(parties, *awards, by_place);
  return by_place;
}

// The result, which must be the same for the table from front to back, from back to front and
// turned by one.
Seats SeatsInAnyOrder(const Json& weights, std::uint32_t seats) {
  std::vector<Party> parties = PartiesOf(weights);
  const std::vector<Award> awards = AwardsOf(parties, seats);
  std::ranges::reverse(parties);
  EXPECT_EQ(AwardsOf(parties, seats), awards);
  std::ranges::rotate(parties, parties.begin() + 1);
  EXPECT_EQ(AwardsOf(parties, seats), awards);
  Seats result;
  for (const Award& award : awards) result.push_back(award.slings);
  return result;
}

// Seats with at least `minimum` each, as the historical tables have them: a quota below it is
// lifted to it, and those who get a seat for the smallest remainders pay.
Seats Lifted(std::vector<Award> awards, std::uint32_t minimum) {
  std::uint32_t owed = 0;
  for (Award& award : awards) {
    if (award.slings >= minimum) continue;
    owed += minimum - award.slings;
    award.slings = minimum;
    award.slings_of_quota = minimum;
  }
  for (; owed > 0; --owed) {
    Award* payer = nullptr;
    for (Award& award : awards) {
      const bool has_extra = award.slings > std::max(award.slings_of_quota, minimum);
      if (has_extra && (payer == nullptr || award.remainder < payer->remainder)) payer = &award;
    }
    if (payer == nullptr) break;
    --payer->slings;
  }
  Seats seats;
  for (const Award& award : awards) seats.push_back(award.slings);
  return seats;
}

TEST(PublishedShare, MeetsTheWorkedExamplesAndOfficialResults) {
  const auto cases = CasesOf("published_examples");
  EXPECT_THAT(cases, SizeIs(7));
  for (const Json& one : cases) {
    EXPECT_EQ(SeatsInAnyOrder(one.at("weights"), one.at("seats").get<std::uint32_t>()),
              one.at("expected").at("hamilton").get<Seats>())
        << one.at("name");
  }
}

TEST(PublishedShare, MeetsTheHouseOf2020) {
  int checked = 0;
  for (const Json& one : CasesOf("us_house_2020")) {
    // The two cases beside the first one are about another method.
    if (!one.at("expected").contains("hamilton")) continue;
    ++checked;
    const auto seats = one.at("seats").get<std::uint32_t>();
    const auto expected = one.at("expected").at("hamilton").get<Seats>();
    EXPECT_EQ(SeatsInAnyOrder(one.at("weights"), seats), expected) << one.at("name");
  }
  EXPECT_EQ(checked, 1);
}

TEST(PublishedShare, MeetsTheTablesOf1880WithTheirMinimumOfOne) {
  const auto cases = CasesOf("alabama_paradox_1880");
  EXPECT_THAT(cases, SizeIs(2));
  for (const Json& one : cases) {
    const auto awards =
        AwardsOf(PartiesOf(one.at("weights")), one.at("seats").get<std::uint32_t>());
    EXPECT_EQ(Lifted(awards, one.at("minimum").get<std::uint32_t>()),
              one.at("expected").at("hamilton").get<Seats>())
        << one.at("name");
  }
}

TEST(PublishedShare, MeetsTheTablesOfClutches) {
  const auto cases = CasesOf("clutch_tables");
  EXPECT_THAT(cases, SizeIs(5));
  for (const Json& one : cases) {
    for (const Json& row : one.at("rows")) {
      const Seats seats = SeatsInAnyOrder(one.at("shares"), row.at("N").get<std::uint32_t>());
      const Json& expected = row.at("hamilton");
      if (expected.is_array()) {
        EXPECT_EQ(seats, expected.get<Seats>()) << one.at("shares") << " of " << row.at("N");
      } else {
        EXPECT_TRUE(SettlesTie(seats, expected)) << one.at("shares") << " of " << row.at("N");
      }
    }
  }
}

TEST(PublishedShare, SettlesTiesAcceptablyAndMeetsTheEdges) {
  const auto cases = CasesOf("ties_and_edges");
  EXPECT_THAT(cases, SizeIs(9));
  for (const Json& one : cases) {
    const Seats seats = SeatsInAnyOrder(one.at("weights"), one.at("seats").get<std::uint32_t>());
    if (one.at("expected").contains("hamilton")) {
      EXPECT_EQ(seats, one.at("expected").at("hamilton").get<Seats>()) << one.at("name");
    } else {
      const Json& tie = one.at("ties").at("hamilton");
      EXPECT_THAT(tie.at("acceptable").get<std::vector<Seats>>(), Contains(seats))
          << one.at("name");
      EXPECT_TRUE(SettlesTie(seats, tie)) << one.at("name");
    }
  }
}

}  // namespace
}  // namespace broodpact::shares
