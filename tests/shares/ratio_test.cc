// Goal: what carries over is one account for the same parties at the same ratio, and nobody drifts
// by a whole sling in it, whatever the clutches; where ratios change, by fewer slings than there
// are ratios. Method: laws over sequences of 1,000 clutches, kept as the registry keeps them, then
// examples.
//
// The order in which clutches come and their ratios are not known beforehand: the carpool problem
// (R. Fagin & J. H. Williams, A fair carpool scheduling algorithm, IBM J. Res. Dev. 27 (1983)
// 133-139).

#include "client/shares/ratio.h"

#include <map>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/shares/split.h"
#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

constexpr std::size_t kClutches = 1'000;

facts::Terms Carried(facts::Terms terms, facts::Carry carry = facts::Carry::kQuota) {
  terms.apportioning.carry = carry;
  return terms;
}

// The accounts and totals of some keepers, clutch after clutch.
class Books {
 public:
  Split ShareOut(const facts::Terms& terms, std::uint32_t counted) {
    const std::optional<CarryId> id = CarryIdOf(terms, 1);
    RC_ASSERT(id.has_value());
    std::uint32_t& carried = carried_[*id];
    const auto split = SplitOf(terms, counted, {.carried_slings = carried});
    RC_ASSERT(split.ok());
    carried = CarriedAfter(terms, 1, carried, split->slings_by_ratio);
    return *split;
  }
  std::size_t accounts() const { return carried_.size(); }

 private:
  std::map<CarryId, std::uint32_t> carried_;
};

// Up to four parties with weights that are likely to tie.
rc::Gen<facts::Terms> AnyCarriedTerms() {
  return rc::gen::exec([] {
    const auto parties = *rc::gen::inRange<std::uint32_t>(2, 5);
    facts::Terms terms;
    for (std::uint32_t i = 0; i < parties; ++i) {
      terms.parties.push_back({.keeper = Keeper(i + 1)});
      terms.shares.push_back({.party = i, .weight = *rc::gen::inRange<std::uint32_t>(1, 8)});
    }
    return Carried(terms, *rc::gen::element(facts::Carry::kQuota, facts::Carry::kChairman));
  });
}

// A party's due in parts of the least common multiple of all sums of weights up to 4 x 7.
constexpr std::int64_t kParts = 2LL * 2 * 2 * 2 * 3 * 3 * 3 * 5 * 5 * 7 * 11 * 13 * 17 * 19 * 23;

std::int64_t DueOf(const facts::Terms& terms, std::size_t share, std::uint32_t slings) {
  std::int64_t sum = 0;
  for (const facts::RatioShare& one : terms.shares) sum += one.weight;
  return slings * terms.shares[share].weight * (kParts / sum);
}

RC_GTEST_PROP(Carry, LeavesNobodyAWholeSlingOffOverAThousandClutches, ()) {
  const facts::Terms terms = *AnyCarriedTerms();
  Books books;
  std::vector<std::int64_t> off(terms.parties.size());
  std::mt19937 random(*rc::gen::arbitrary<std::uint32_t>());
  for (std::size_t i = 0; i < kClutches; ++i) {
    const auto counted = static_cast<std::uint32_t>(random() % 40);
    const Split split = books.ShareOut(terms, counted);
    for (std::size_t share = 0; share < terms.shares.size(); ++share) {
      std::int64_t& his = off[share];
      his += split.slings[share] * kParts - DueOf(terms, share, counted);
      RC_ASSERT(his < kParts);
      RC_ASSERT(his > -kParts);
    }
  }
}

RC_GTEST_PROP(Carry, LeavesNobodyAsManySlingsOffAsThereAreRatios, ()) {
  const auto ratios = *rc::gen::container<std::vector<facts::Terms>>(3, AnyCarriedTerms());
  Books books;
  std::map<KeeperId, std::int64_t> off;
  std::mt19937 random(*rc::gen::arbitrary<std::uint32_t>());
  for (std::size_t i = 0; i < kClutches; ++i) {
    const facts::Terms& terms = ratios[random() % ratios.size()];
    const auto counted = static_cast<std::uint32_t>(random() % 20);
    const Split split = books.ShareOut(terms, counted);
    const auto bound = static_cast<std::int64_t>(books.accounts()) * kParts;
    for (std::size_t share = 0; share < terms.shares.size(); ++share) {
      std::int64_t& his = off[terms.parties[share].keeper];
      his += split.slings[share] * kParts - DueOf(terms, share, counted);
      RC_ASSERT(his < bound);
      RC_ASSERT(his > -bound);
    }
  }
}

RC_GTEST_PROP(Carry, GoesOnAlikeFromATotalBeyondItsBound, ()) {
  const facts::Terms terms = *AnyCarriedTerms();
  const auto more = *rc::gen::inRange<std::uint32_t>(0, 100);
  const std::uint32_t far = kSlingsSharedMax - facts::kSlingsMax;
  const std::uint32_t anew = CarriedAfter(terms, 1, far, 1);
  RC_ASSERT(anew < 100U);
  const auto at_bound = SplitOf(terms, more + 1, {.carried_slings = far});
  const auto first = SplitOf(terms, 1, {.carried_slings = far});
  const auto after = SplitOf(terms, more, {.carried_slings = anew});
  RC_ASSERT(at_bound.ok() && first.ok() && after.ok());
  for (std::size_t i = 0; i < terms.parties.size(); ++i) {
    RC_ASSERT(at_bound->slings[i] == first->slings[i] + after->slings[i]);
  }
}

TEST(CarryAccount, IsOneForTheSameRatioWrittenOtherwiseAndInAnotherOrder) {
  facts::Terms turned = Carried(SharedBy({2, 4}));
  std::swap(turned.parties[0].keeper, turned.parties[1].keeper);
  const auto id = CarryIdOf(Carried(SharedBy({2, 1})), 1);
  ASSERT_TRUE(id.has_value());
  EXPECT_EQ(CarryIdOf(Carried(SharedBy({4, 2})), 1), id);
  EXPECT_EQ(CarryIdOf(turned, 1), id);
}

TEST(CarryAccount, IsAnotherForAnotherRatioMethodOrParty) {
  const auto id = CarryIdOf(Carried(SharedBy({2, 1})), 1);
  EXPECT_NE(CarryIdOf(Carried(SharedBy({1, 2})), 1), id);
  EXPECT_NE(CarryIdOf(Carried(SharedBy({2, 1, 1})), 1), id);
  EXPECT_NE(CarryIdOf(Carried(SharedBy({2, 1}), facts::Carry::kChairman), 1), id);
  facts::Terms other = Carried(SharedBy({2, 1}));
  other.parties[1].keeper = Keeper(9);
  EXPECT_NE(CarryIdOf(other, 1), id);
}

TEST(CarryAccount, IsNoneWhereNothingCarriesOver) {
  EXPECT_EQ(CarryIdOf(SharedBy({2, 1}), 1), std::nullopt);
  EXPECT_EQ(CarryIdOf(Carried(SharedBy({2, 1}), facts::Carry::kOff), 1), std::nullopt);
  EXPECT_EQ(CarryIdOf(Carried(SharedBy({2})), 1), std::nullopt);
}

TEST(Ratio, IsThatOfTheLastListThatTheSacHasReached) {
  facts::Terms terms = SharedBy({1, 1});
  terms.later_shares = {{.first_sac = 2, .shares = {{.party = 1, .weight = 3}}},
                        {.first_sac = 4, .shares = {{.party = 0, .weight = 5}}}};
  EXPECT_EQ(SharesOf(terms, 1), terms.shares);
  EXPECT_EQ(SharesOf(terms, 2), terms.later_shares[0].shares);
  EXPECT_EQ(SharesOf(terms, 3), terms.later_shares[0].shares);
  EXPECT_EQ(SharesOf(terms, 9), terms.later_shares[1].shares);
}

}  // namespace
}  // namespace broodpact::shares
