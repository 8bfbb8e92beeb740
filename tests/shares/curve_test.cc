// Goal: a curve says of every size what a split of it says. Method: a law against splits one by
// one, and the ends of long ranges.

#include "client/shares/curve.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "client/shares/split.h"
#include "tests/shares/any_terms.h"

namespace broodpact::shares {
namespace {

using ::testing::ElementsAre;

RC_GTEST_PROP(Curve, SaysOfEverySizeWhatASplitOfItSays, ()) {
  const facts::Terms terms = *AnyTerms();
  const auto from = *rc::gen::inRange<std::uint32_t>(0, 50);
  const auto curve = CurveOf(terms, {.from = from, .to = from + *rc::gen::inRange(0U, 30U)});
  RC_ASSERT(curve.ok());
  RC_ASSERT(curve->sizes.front() == from);
  for (std::size_t i = 0; i < curve->sizes.size(); ++i) {
    const auto split = SplitOf(terms, curve->sizes[i]);
    RC_ASSERT(split.ok());
    for (std::size_t party = 0; party < curve->keepers.size(); ++party) {
      RC_ASSERT(curve->slings[party][i] == split->slings[party]);
    }
  }
}

TEST(Curve, OfALongRangeHasItsEndsAndEqualSteps) {
  const auto curve = CurveOf(SharedBy({1, 1}), {.from = 0, .to = 4'000});
  ASSERT_TRUE(curve.ok());
  EXPECT_EQ(curve->sizes.size(), kCurveSizesMax);
  EXPECT_EQ(curve->sizes[1], 10U);
  EXPECT_EQ(curve->sizes.back(), 4'000U);
}

TEST(Curve, OfOneSizeIsThatSplit) {
  const auto curve = CurveOf(SharedBy({2, 1}), {.from = 9, .to = 9});
  ASSERT_TRUE(curve.ok());
  EXPECT_THAT(curve->slings, ElementsAre(ElementsAre(6), ElementsAre(3)));
}

TEST(Curve, HasOwnersOfSiresBesideTheParties) {
  facts::Terms terms = SharedBy({1, 1});
  terms.parties[0].role = facts::PartyRole::kMaleOwner;
  const auto curve = CurveOf(terms, {.from = 0, .to = 8},
                             {.sire_owners = {{.keeper = Keeper(1)}, {.keeper = Keeper(7)}}});
  ASSERT_TRUE(curve.ok());
  EXPECT_THAT(curve->keepers, ElementsAre(Keeper(1), Keeper(2), Keeper(7)));
  EXPECT_THAT(curve->slings[2], ElementsAre(0, 0, 0, 1, 1, 1, 1, 2, 2));
}

TEST(Curve, RefusesARangeThatEndsBeforeItBegins) {
  EXPECT_EQ(ReasonOf(CurveOf(SharedBy({1}), {.from = 2, .to = 1}).status()), "CURVE_RANGE");
}

}  // namespace
}  // namespace broodpact::shares
