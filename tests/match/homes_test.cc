// Goal: who seeks slings stands in the stated order, and none that is out of bounds. Method:
// examples, one for each criterion and each bound.

#include "client/match/homes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace broodpact::match {
namespace {

using ::testing::ElementsAre;

WantId Want(std::uint8_t number) {
  WantId want;
  want.bytes.back() = number;
  return want;
}

TEST(RankHomes, GoesByDistanceThenByEntryThenByHowMany) {
  const HomeCandidate near{
      .want = Want(9), .nearness = Nearness::kSameRegion, .arrival = 900, .slings = 1};
  const HomeCandidate abroad{
      .want = Want(8), .nearness = Nearness::kAbroad, .distance_km = 300, .arrival = 5};
  const HomeCandidate farther{
      .want = Want(1), .nearness = Nearness::kAbroad, .distance_km = 900, .arrival = 1};
  const HomeCandidate later{
      .want = Want(0), .nearness = Nearness::kAbroad, .distance_km = 900, .arrival = 2};
  const HomeCandidate not_arrived{
      .want = Want(2), .nearness = Nearness::kAbroad, .distance_km = 900};
  EXPECT_THAT(RankHomes({not_arrived, later, farther, abroad, near}, {}),
              ElementsAre(near, abroad, farther, later, not_arrived));
  const std::vector<HomeCriterion> only_slings{HomeCriterion::kDistance, HomeCriterion::kEntry};
  const HomeCandidate many{.want = Want(7), .nearness = Nearness::kNotSaid, .slings = 40};
  EXPECT_THAT(RankHomes({near, many}, {}, only_slings), ElementsAre(many, near));
}

TEST(RankHomes, KeepsThoseAtABoundAndThoseWithoutData) {
  const HomeCandidate silent{.want = Want(1)};
  const HomeCandidate at{
      .want = Want(2), .nearness = Nearness::kSameRegion, .distance_km = 100, .slings = 20};
  const HomeCandidate far{.want = Want(3), .nearness = Nearness::kSameRegion, .distance_km = 101};
  const HomeCandidate few{.want = Want(4), .slings = 19};
  const HomeCandidate abroad{.want = Want(5), .nearness = Nearness::kAbroad};
  EXPECT_THAT(RankHomes({silent, far, few, abroad, at},
                        {.distance_km_max = 100, .slings_min = 20, .borders = Borders::kKept}),
              ElementsAre(at, silent));
}

TEST(RankHomes, SaysItsOrderAndWhichCriterionDecided) {
  EXPECT_EQ(OrderOf(std::span<const HomeCriterion>()), kHomeOrder);
  const HomeCandidate first{.want = Want(2), .arrival = 3};
  const HomeCandidate second{.want = Want(1), .arrival = 4};
  EXPECT_EQ(DecisiveOf(first, second, {}), HomeCriterion::kEntry);
}

}  // namespace
}  // namespace broodpact::match
