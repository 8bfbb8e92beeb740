// Goal: the running methods give what others published for them. Method: every case of
// tests/published/apportion for the quota method and for chairman assignment, exactly.
//
// Sources (in full in the "meta" of each file):
//   carry_over           R. Tijdeman, The chairman assignment problem, Discrete Mathematics 32
//   (1980)
//                        323-330; Balinski & Young 1975 (the last row of its example); the rest
//                        exact rational arithmetic, computed for this project
//   published_examples   Balinski & Young, The quota method of apportionment, Amer. Math. Monthly
//   82
//                        (1975) 701-730, example 1
//   ties_and_edges       exact rational arithmetic, computed for this project

#include <algorithm>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "client/shares/running.h"
#include "tests/shares/any_terms.h"
#include "tests/shares/published_cases.h"

namespace broodpact::shares {
namespace {

Seats TotalOf(RunningMethod method, std::uint32_t total, const std::vector<Claimant>& claimants) {
  const auto given = ShareTotal(method, total, claimants);
  EXPECT_TRUE(given.ok()) << given.status();
  return given.ok() ? *given : Seats{};
}

// Who gets the sling that makes `total`.
std::size_t ReceiverOf(RunningMethod method, std::uint32_t total,
                       const std::vector<Claimant>& claimants) {
  const Seats before = TotalOf(method, total - 1, claimants);
  const Seats after = TotalOf(method, total, claimants);
  std::size_t receiver = 0;
  while (receiver + 1 < after.size() && after[receiver] == before[receiver]) ++receiver;
  return receiver;
}

// "2/5"
struct Part {
  std::uint64_t over = 0;
  std::uint64_t under = 1;
};

Part PartOf(const std::string& text) {
  const std::size_t line = text.find('/');
  return {.over = std::stoull(text.substr(0, line)), .under = std::stoull(text.substr(line + 1))};
}

// The largest distance from a quota up to a total of `last`, in parts of the sum of weights.
std::uint64_t MostOffQuota(RunningMethod method, std::uint32_t last,
                           const std::vector<Claimant>& claimants) {
  std::uint64_t most = 0;
  for (std::uint32_t total = 0; total <= last; ++total) {
    const Seats given = TotalOf(method, total, claimants);
    for (std::size_t i = 0; i < given.size(); ++i) {
      const std::uint64_t has = given[i] * WeightSum(claimants);
      const std::uint64_t due = total * claimants[i].weight;
      most = std::max(most, has > due ? has - due : due - has);
    }
  }
  return most;
}

TEST(PublishedRunning, MeetsTheClutchesByTheQuotaMethod) {
  int met = 0;
  for (const Json& one : CasesOf("carry_over")) {
    if (one.at("kind") != "cumulative_quota_method") continue;
    const auto claimants = ClaimantsOf(PartiesOf(one.at("shares")));
    std::uint32_t before = 0;
    for (const Json& row : one.at("rows")) {
      ++met;
      const auto slings = row.at("N").get<std::uint32_t>();
      const auto awards =
          ShareNext(RunningMethod::kQuota, {.slings_before = before, .slings = slings}, claimants);
      ASSERT_TRUE(awards.ok());
      Seats clutch;
      Seats total;
      for (const RunningAward& award : *awards) {
        clutch.push_back(award.slings);
        total.push_back(award.slings_before + award.slings);
      }
      EXPECT_EQ(clutch, row.at("this_clutch").get<Seats>());
      EXPECT_EQ(total, row.at("cumulative").get<Seats>());
      before += slings;
      EXPECT_EQ(before, row.at("cumulative_total").get<std::uint32_t>());
    }
  }
  EXPECT_EQ(met, 5 + 4);
}

TEST(PublishedRunning, MeetsTheExamplesOfTheQuotaMethod) {
  int met = 0;
  for (const char* const name : {"published_examples", "ties_and_edges"}) {
    for (const Json& one : CasesOf(name)) {
      if (!one.at("expected").contains("quota")) continue;
      ++met;
      Seats expected = one.at("expected").at("quota").get<Seats>();
      const Seats weights = one.at("weights").get<Seats>();
      for (std::size_t i = weights.size(); i-- > 0;) {
        if (weights[i] == 0) expected.erase(expected.begin() + static_cast<std::ptrdiff_t>(i));
      }
      EXPECT_EQ(TotalOf(RunningMethod::kQuota, one.at("seats").get<std::uint32_t>(),
                        ClaimantsOf(PartiesOf(one.at("weights")))),
                expected)
          << one.at("name");
    }
  }
  EXPECT_EQ(met, 4);
}

TEST(PublishedRunning, MeetsTheSequencesOfChairmen) {
  int met = 0;
  for (const Json& one : CasesOf("carry_over")) {
    if (one.at("kind") != "tijdeman") continue;
    ++met;
    const auto claimants = ClaimantsOf(PartiesOf(one.at("shares")));
    const auto sequence = one.at("sequence").get<std::vector<std::size_t>>();
    for (std::uint32_t total = 1; total <= sequence.size(); ++total) {
      EXPECT_EQ(ReceiverOf(RunningMethod::kChairman, total, claimants), sequence[total - 1]);
    }
    const auto most =
        MostOffQuota(RunningMethod::kChairman, one.at("n").get<std::uint32_t>(), claimants);
    const Part expected = PartOf(one.at("max_abs_deviation").get<std::string>());
    const Part bound = PartOf(one.at("bound").get<std::string>());
    EXPECT_EQ(most * expected.under, expected.over * WeightSum(claimants));
    EXPECT_LE(most * bound.under, bound.over * WeightSum(claimants));
  }
  EXPECT_EQ(met, 2);
}

TEST(PublishedRunning, RoundsTheShareOfOneOfTwoPartiesToTheNearestByChairman) {
  int met = 0;
  for (const Json& one : CasesOf("carry_over")) {
    if (one.at("kind") != "two_party_rounding") continue;
    ++met;
    const Part share = PartOf(one.at("share").get<std::string>());
    const std::vector<Claimant> claimants = {
        {.keeper = Keeper(1), .weight = share.over},
        {.keeper = Keeper(2), .weight = share.under - share.over}};
    const Seats expected = one.at("cumulative_A").get<Seats>();
    for (std::uint32_t total = 1; total <= expected.size(); ++total) {
      EXPECT_EQ(TotalOf(RunningMethod::kChairman, total, claimants)[0], expected[total - 1]);
    }
  }
  EXPECT_EQ(met, 1);
}

}  // namespace
}  // namespace broodpact::shares
