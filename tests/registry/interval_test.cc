// Goal: the possible sires of a clutch are the males of the female's interval, whatever the order
// in which moults and pairings were entered. Method: examples on a line of days, with uncertain
// ones.

#include "client/registry/interval.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

Pairing Paired(std::uint32_t male, std::string_view day,
               facts::PairingOutcome outcome = facts::PairingOutcome::kInsertionSeen) {
  Pairing pairing;
  pairing.male = Numbered<AnimalId>(male);
  pairing.day = On(day);
  pairing.outcome = outcome;
  return pairing;
}

Animal FemaleMoulted(const std::vector<std::string_view>& days) {
  Animal female;
  for (const std::string_view day : days) female.moults.push_back({.day = On(day)});
  return female;
}

const AnimalId kOne = Numbered<AnimalId>(1);
const AnimalId kTwo = Numbered<AnimalId>(2);

TEST(Interval, AMoultShedsWhatWasStored) {
  const Animal female = FemaleMoulted({"2025-06-01", "2026-02-01"});
  EXPECT_THAT(
      PossibleSires(female, On("2026-05-01"), {Paired(1, "2025-07-01"), Paired(2, "2026-03-01")}),
      ElementsAre(kTwo));
}

TEST(Interval, AMoultEnteredLateRecutsTheInterval) {
  const Animal female = FemaleMoulted({"2026-02-01", "2025-06-01"});
  EXPECT_THAT(
      PossibleSires(female, On("2026-05-01"), {Paired(1, "2025-07-01"), Paired(2, "2026-03-01")}),
      ElementsAre(kTwo));
}

TEST(Interval, SeveralMalesEachOnceInOrderOfId) {
  EXPECT_THAT(
      PossibleSires(FemaleMoulted({}), On("2026-05-01"),
                    {Paired(2, "2026-03-01"), Paired(1, "2026-03-02"), Paired(2, "2026-03-03")}),
      ElementsAre(kOne, kTwo));
}

TEST(Interval, ARefusalMakesNoSire) {
  EXPECT_THAT(PossibleSires(FemaleMoulted({}), On("2026-05-01"),
                            {Paired(1, "2026-03-01", facts::PairingOutcome::kRefused)}),
              IsEmpty());
}

TEST(Interval, APairingAfterTheSacMakesNoSire) {
  EXPECT_THAT(PossibleSires(FemaleMoulted({}), On("2026-05-01"),
                            {Paired(1, "2026-05-02"), Paired(2, "2026-05-01")}),
              ElementsAre(kTwo));
}

TEST(Interval, WhatMayHaveBeenIsPossible) {
  // She moulted some time in March; he was there on the 15th.
  EXPECT_THAT(
      PossibleSires(FemaleMoulted({"2026-03"}), On("2026-05-01"), {Paired(1, "2026-03-15")}),
      ElementsAre(kOne));
  // The moult may have been after the sac: it cuts nothing.
  EXPECT_THAT(
      PossibleSires(FemaleMoulted({"2026-05"}), On("2026-05-10"), {Paired(1, "2026-03-15")}),
      ElementsAre(kOne));
  // The sac may have been laid after the pairing.
  EXPECT_THAT(PossibleSires(FemaleMoulted({}), On("2026-05"), {Paired(1, "2026-05-20")}),
              ElementsAre(kOne));
  // On the day of the moult itself, he may have come after it.
  EXPECT_THAT(
      PossibleSires(FemaleMoulted({"2026-03-15"}), On("2026-05-01"), {Paired(1, "2026-03-15")}),
      ElementsAre(kOne));
}

// The same answers as going through all of them, for days and spans that meet.
RC_GTEST_PROP(FertileDays, CoverWhatHasAPossibleSire, ()) {
  const auto any_span = [] {
    const int first = *rc::gen::inRange(0, 12);
    return DaySpan{.earliest = Day{.number = first},
                   .latest = Day{.number = first + *rc::gen::inRange(0, 4)}};
  };
  Animal female;
  std::vector<Pairing> pairings;
  for (int i = *rc::gen::inRange(0, 5); i > 0; --i) female.moults.push_back({.day = any_span()});
  for (int i = *rc::gen::inRange(0, 5); i > 0; --i) {
    Pairing& pairing = pairings.emplace_back();
    pairing.day = any_span();
    pairing.claimed = *rc::gen::inRange(0, 4) == 0;
    pairing.outcome =
        *rc::gen::element(facts::PairingOutcome::kInsertionSeen, facts::PairingOutcome::kRefused);
  }
  const DaySpan laying = any_span();
  RC_ASSERT(FertileDays(female, pairings).Cover(laying) ==
            !PossibleSires(female, laying, pairings).empty());
}

TEST(Interval, AMoultAfterTheSacCutsNothing) {
  EXPECT_THAT(
      PossibleSires(FemaleMoulted({"2026-05-20"}), On("2026-05-01"), {Paired(1, "2026-03-15")}),
      ElementsAre(kOne));
}

}  // namespace
}  // namespace broodpact::registry
