// Goal: a search shows its animals in the stated order, the same on every replica, and none that is
// out of bounds. Method: laws over candidates that agree in most criteria, and one example for each
// criterion against all later ones.

#include "client/match/candidates.h"

#include <algorithm>
#include <random>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/match/any_candidate.h"

namespace broodpact::match {
namespace {

// Few values for each criterion, so that every one of them has to decide now and then.
rc::Gen<std::vector<Candidate>> AnyMales() {
  return rc::gen::exec([] {
    std::vector<Candidate> males(*rc::gen::inRange<std::size_t>(0, 30));
    for (std::size_t i = 0; i < males.size(); ++i) {
      males[i] = {
          .animal = Animal(static_cast<std::uint8_t>(i)),
          .availability = *rc::gen::element(Availability::kFree, Availability::kPromised),
          .nearness = *rc::gen::element(Nearness::kOwn, Nearness::kAbroad),
          .mature_days = *rc::gen::element<std::optional<std::int32_t>>(std::nullopt, 30, 90),
          .left_days = *AnyOf(0, 200),
          .offspring_inbreeding = *AnyOf(0, 0.25),
          .diversity_gain = *AnyOf(-0.1, 0.1),
          .pairings = *rc::gen::element(0U, 3U)};
    }
    return males;
  });
}

rc::Gen<Bounds> AnyBounds() {
  return rc::gen::exec([] {
    return Bounds{.offspring_inbreeding_max = *AnyOf(0, 0.125), .left_days_min = *AnyOf(0, 100)};
  });
}

template <typename Any>
std::vector<Any> Shuffled(std::vector<Any> animals) {
  std::ranges::shuffle(animals, std::mt19937(*rc::gen::arbitrary<std::uint32_t>()));
  return animals;
}

rc::Gen<std::vector<Criterion>> AnyCriteria() {
  return rc::gen::container<std::vector<Criterion>>(rc::gen::element(
      Criterion::kAvailability, Criterion::kInbreeding, Criterion::kTimeLeft, Criterion::kGain,
      Criterion::kFreshness, Criterion::kDistance, Criterion::kPairings));
}

// What decides between two neighbours is the first criterion in which they differ, and none of
// those that are ignored: ignoring it too would leave them to the next.
RC_GTEST_PROP(RankMales, IsDecidedByTheFirstCriterionThatIsNotIgnored, ()) {
  auto ignored = *AnyCriteria();
  const auto ranked = RankMales(*AnyMales(), {}, ignored);
  for (std::size_t i = 1; i < ranked.size(); ++i) {
    const auto decisive = DecisiveOf(ranked[i - 1], ranked[i], ignored);
    if (!decisive) {
      RC_ASSERT(ranked[i - 1].animal < ranked[i].animal);
      continue;
    }
    RC_ASSERT(std::ranges::find(ignored, *decisive) == ignored.end());
  }
}

TEST(RankMales, SaysItsOrderWithoutWhatIsIgnored) {
  EXPECT_EQ(OrderOf({}), kMaleOrder);
  const std::vector<Criterion> ignored{Criterion::kAvailability, Criterion::kMaturity,
                                       Criterion::kTimeLeft,     Criterion::kGain,
                                       Criterion::kFreshness,    Criterion::kPairings};
  EXPECT_EQ(OrderOf(ignored), "lower inbreeding of the offspring, nearer");
}

TEST(RankMales, LeavesOutWhatIsTooFarPairedTooOftenOrNotFree) {
  const std::vector<Candidate> males{{.animal = Animal(1), .distance_km = 500},
                                     {.animal = Animal(2), .pairings = 3},
                                     {.animal = Animal(3), .availability = Availability::kPromised},
                                     {.animal = Animal(4), .distance_km = 400, .pairings = 2}};
  const auto ranked = RankMales(males, {.distance_km_max = 400,
                                        .pairings_max = 2,
                                        .availability_max = Availability::kPromisedBefore});
  ASSERT_EQ(ranked.size(), 1U);
  EXPECT_EQ(ranked[0].animal, Animal(4));
}

TEST(RankMales, LeavesOutWhatLosesDiversityMaturedLongAgoOrIsAcrossABorder) {
  const std::vector<Candidate> males{{.animal = Animal(1), .diversity_gain = -0.001},
                                     {.animal = Animal(2), .mature_days = 101},
                                     {.animal = Animal(3), .nearness = Nearness::kAbroad},
                                     {.animal = Animal(4), .mature_days = 100, .diversity_gain = 0},
                                     {.animal = Animal(5), .nearness = Nearness::kSameRegion}};
  const auto ranked = RankMales(
      males, {.diversity_gain_min = 0, .mature_days_max = 100, .borders = Borders::kKept});
  ASSERT_EQ(ranked.size(), 2U);
  EXPECT_EQ(ranked[0].animal, Animal(4));
  EXPECT_EQ(ranked[1].animal, Animal(5));
}

bool IsOut(const Candidate& male, const Bounds& bounds) {
  return (bounds.offspring_inbreeding_max && male.offspring_inbreeding &&
          *male.offspring_inbreeding > *bounds.offspring_inbreeding_max) ||
         (bounds.left_days_min && male.left_days && *male.left_days < *bounds.left_days_min);
}

RC_GTEST_PROP(RankMales, DoesNotDependOnTheOrderInWhichTheyCome, ()) {
  const auto males = *AnyMales();
  const auto bounds = *AnyBounds();
  RC_ASSERT(RankMales(males, bounds) == RankMales(Shuffled(males), bounds));
}

RC_GTEST_PROP(RankMales, ShowsJustThoseWithinBoundsAndEachOnce, ()) {
  const auto males = *AnyMales();
  const auto bounds = *AnyBounds();
  auto shown = RankMales(males, bounds);
  std::vector<Candidate> expected;
  for (const Candidate& male : males) {
    if (!IsOut(male, bounds)) expected.push_back(male);
  }
  std::ranges::sort(shown, {}, &Candidate::animal);
  RC_ASSERT(shown == expected);
}

// Whatever else is shown, two males stand in the same order: nothing in the list moves them.
RC_GTEST_PROP(RankMales, OrdersEachPairAsIfItWereAlone, ()) {
  const auto ranked = RankMales(*AnyMales(), {});
  for (std::size_t i = 0; i < ranked.size(); ++i) {
    for (std::size_t j = i + 1; j < ranked.size(); ++j) {
      RC_ASSERT(RankMales({ranked[j], ranked[i]}, {}).front() == ranked[i]);
    }
  }
}

// A male that is best in everything, id included.
Candidate BestMale() {
  return {.animal = Animal(1),
          .availability = Availability::kFree,
          .nearness = Nearness::kOwn,
          .mature_days = 10,
          .left_days = 300,
          .offspring_inbreeding = 0,
          .diversity_gain = 0.1,
          .pairings = 0};
}

// One that is worst in everything.
Candidate WorstMale() {
  return {.animal = Animal(9),
          .availability = Availability::kPromised,
          .nearness = Nearness::kNotSaid,
          .mature_days = 400,
          .left_days = 5,
          .offspring_inbreeding = 0.25,
          .diversity_gain = -0.1,
          .pairings = 7};
}

struct Criterion {
  const char* name = "";
  void (*copy)(const Candidate& from, Candidate& to) = nullptr;
};

// Written out as the contract has them. For each, `first` and `second` are alike in all criteria
// before it, `first` is better in it, and `second` in all after it.
TEST(RankMales, GoesByItsCriteriaInTheOrderOfTheContract) {
  const std::vector<Criterion> criteria{
      {"availability",
       [](const Candidate& from, Candidate& to) { to.availability = from.availability; }},
      {"inbreeding", [](const Candidate& from,
                        Candidate& to) { to.offspring_inbreeding = from.offspring_inbreeding; }},
      {"time left", [](const Candidate& from, Candidate& to) { to.left_days = from.left_days; }},
      {"gain",
       [](const Candidate& from, Candidate& to) { to.diversity_gain = from.diversity_gain; }},
      {"maturity", [](const Candidate& from, Candidate& to) { to.mature_days = from.mature_days; }},
      {"nearness", [](const Candidate& from, Candidate& to) { to.nearness = from.nearness; }},
      {"pairings", [](const Candidate& from, Candidate& to) { to.pairings = from.pairings; }},
      {"id", [](const Candidate& from, Candidate& to) { to.animal = from.animal; }}};
  for (std::size_t decisive = 0; decisive < criteria.size(); ++decisive) {
    Candidate first = WorstMale();
    Candidate second = BestMale();
    for (std::size_t i = 0; i < decisive; ++i) criteria[i].copy(first, second);
    criteria[decisive].copy(BestMale(), first);
    criteria[decisive].copy(WorstMale(), second);
    if (decisive + 1 < criteria.size()) second.animal = Animal(0);
    EXPECT_EQ(RankMales({second, first}, {}).front(), first) << criteria[decisive].name;
  }
}

TEST(RankMales, PutsTheUnknownAfterTheWorstThatIsKnown) {
  Candidate known = WorstMale();
  Candidate unknown = WorstMale();
  known.animal = Animal(9);
  unknown.animal = Animal(1);
  unknown.left_days = std::nullopt;
  EXPECT_EQ(RankMales({unknown, known}, {}).front(), known);
  unknown = known;
  unknown.animal = Animal(1);
  unknown.mature_days = std::nullopt;
  EXPECT_EQ(RankMales({unknown, known}, {}).front(), known);
  unknown = known;
  unknown.animal = Animal(1);
  unknown.offspring_inbreeding = std::nullopt;
  EXPECT_EQ(RankMales({unknown, known}, {}).front(), known);
}

TEST(RankMales, PutsThoseBackInTimeBetweenTheFreeAndThePromised) {
  std::vector<Candidate> males(3, BestMale());
  for (std::uint8_t i = 0; i < 3; ++i) males[i].animal = Animal(i);
  males[0].availability = Availability::kPromised;
  males[1].availability = Availability::kPromisedBefore;
  males[2].availability = Availability::kFree;
  const auto ranked = RankMales(males, {});
  EXPECT_THAT(ranked, ::testing::ElementsAre(males[2], males[1], males[0]));
}

TEST(RankMales, KeepsThoseAtABoundAndThoseWithoutData) {
  const Bounds bounds{.offspring_inbreeding_max = 0.125, .left_days_min = 60};
  Candidate at_bound = BestMale();
  at_bound.offspring_inbreeding = 0.125;
  at_bound.left_days = 60;
  Candidate silent = BestMale();
  silent.offspring_inbreeding = std::nullopt;
  silent.left_days = std::nullopt;
  EXPECT_EQ(RankMales({at_bound, silent}, bounds).size(), 2U);
  Candidate past = BestMale();
  past.offspring_inbreeding = 0.126;
  EXPECT_TRUE(RankMales({past}, bounds).empty());
  past = BestMale();
  past.left_days = 59.9;
  EXPECT_TRUE(RankMales({past}, bounds).empty());
}

}  // namespace
}  // namespace broodpact::match
