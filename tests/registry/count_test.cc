// Goal: counts are never averaged and never overwritten; a split is what the terms imply, once.
// Method: a cooperative in memory, a female of tomas', a male on loan from mira.

#include "fmt/core.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::UnorderedElementsAre;

class Counts : public testing::Test {
 protected:
  Counts()
      : male_(world_.Enter(world_.mira, "m", facts::Sex::kMale)),
        female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)),
        loan_(world_.Lend(world_.mira, world_.tomas, male_)),
        clutch_(world_.Lay(world_.tomas, female_, loan_)) {}

  std::string Count(const Member& by, std::uint32_t living, std::uint32_t dead = 0,
                    const Token& replaces = {}) {
    return world_.Say(by, {facts::Count{.clutch = clutch_,
                                        .day = On("2026-05-20"),
                                        .slings_living = living,
                                        .slings_dead = dead,
                                        .count_token = replaces}});
  }
  // By the terms of the loan: equal parts, mira first.
  facts::SplitRecord Split(std::uint32_t mira, std::uint32_t tomas, const Token& count) {
    return {.clutch = clutch_,
            .count_token = count,
            .shares = {{.keeper = world_.mira.id, .slings = mira, .lot = world_.NewId<LotId>()},
                       {.keeper = world_.tomas.id, .slings = tomas, .lot = world_.NewId<LotId>()}}};
  }
  Accounts Books() { return world_.clutch(clutch_).accounts; }

  World world_;
  AnimalId male_;
  AnimalId female_;
  LoanId loan_;
  ClutchId clutch_;
};

TEST_F(Counts, TheFirstCountOpensTheBooks) {
  EXPECT_EQ(Count(world_.tomas, 80, 5), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 85, .undivided = 80, .dead = 5}));
}

TEST_F(Counts, ACountIsStatedByAKeeperOfTheClutchOrAPartyOfItsLoan) {
  EXPECT_EQ(Count(world_.bela, 80), "void NOT_YOUR_CLUTCH");
  EXPECT_EQ(Count(world_.mira, 80), "counted");
  EXPECT_EQ(world_.Say(world_.mira,
                       {facts::Count{.clutch = Numbered<ClutchId>(99), .day = On("2026-05-20")}}),
            "refused UNKNOWN_SUBJECT");
}

TEST_F(Counts, ARecountThatNamesTheStandingOneReplacesIt) {
  ASSERT_EQ(Count(world_.tomas, 80, 5), "counted");
  EXPECT_EQ(Count(world_.mira, 78, 6, world_.token()), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 85, .undivided = 78, .dead = 6, .unaccounted = 1}));
  EXPECT_EQ(Count(world_.mira, 82, 3, world_.token()), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 85, .undivided = 82, .dead = 3}))
      << "who is dead is what the count that stands says";
  const std::vector<CountRecord> counts = world_.clutch(clutch_).counts;
  ASSERT_EQ(counts.size(), 3U);
  EXPECT_EQ(counts[0].state, CountState::kReplaced);
  EXPECT_EQ(counts[1].state, CountState::kReplaced);
  EXPECT_EQ(counts[2].state, CountState::kStanding);
}

TEST_F(Counts, ACountThatWasEnteredTheWrongWayRoundIsMendedByOneThatReplacesIt) {
  ASSERT_EQ(Count(world_.tomas, 9, 187), "counted");
  EXPECT_EQ(Count(world_.tomas, 187, 9, world_.token()), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 196, .undivided = 187, .dead = 9}));
}

TEST_F(Counts, OfTwoCountsTheHigherOneSaysHowManyHatched) {
  ASSERT_EQ(Count(world_.tomas, 10), "counted");
  EXPECT_EQ(Count(world_.tomas, 188, 9, world_.token()), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 197, .undivided = 188, .dead = 9}));
  EXPECT_EQ(Count(world_.tomas, 180, 9, world_.token()), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 197, .undivided = 180, .dead = 9, .unaccounted = 8}));
}

TEST_F(Counts, ASecondCountWithTheSameNumbersIsNoClash) {
  ASSERT_EQ(Count(world_.tomas, 80, 5), "counted");
  const Token first = world_.token();
  EXPECT_EQ(Count(world_.mira, 80, 5), "counted FLAG_COUNT_SAME");
  EXPECT_TRUE(world_.clashes().empty());
  EXPECT_EQ(world_.clutch(clutch_).counts[1].state, CountState::kSame);
  EXPECT_EQ(world_.Say(world_.mira, {Split(40, 40, first)}), "counted") << "the first one stands";
}

TEST_F(Counts, ARivalCountIsKeptBesideTheStandingOneAndIsAClash) {
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(Count(world_.mira, 84), fmt::format("superseded COUNT_RIVAL by {}", winner));
  const Clutch clutch = world_.clutch(clutch_);
  ASSERT_EQ(clutch.counts.size(), 2U);
  EXPECT_EQ(clutch.counts[1].state, CountState::kRival);
  EXPECT_EQ(clutch.counts[1].slings_living, 84U);
  EXPECT_EQ(clutch.accounts.undivided, 80U) << "the first stands";
  ASSERT_EQ(world_.clashes().size(), 1U);
  EXPECT_EQ(world_.clashes()[0].subject_kind, Kind::kClutch);
  EXPECT_THAT(world_.clashes()[0].parties, UnorderedElementsAre(world_.mira.id, world_.tomas.id));
}

TEST_F(Counts, ACountThatNamesAReplacedOneIsARival) {
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  const Token first = world_.token();
  ASSERT_EQ(Count(world_.tomas, 79, 1, first), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(Count(world_.mira, 81, 0, first), fmt::format("superseded COUNT_RIVAL by {}", winner));
}

TEST_F(Counts, ACommitCountsAClutchOnce) {
  const facts::Count count{.clutch = clutch_, .day = On("2026-05-20"), .slings_living = 10};
  EXPECT_EQ(world_.Say(world_.tomas, {count, count}), "refused COUNT_TWICE");
  EXPECT_TRUE(world_.clutch(clutch_).counts.empty());
}

TEST_F(Counts, ACountBeyondTheBoundsIsRefused) {
  EXPECT_EQ(Count(world_.tomas, facts::kSlingsMax + 1), "refused COUNT_OUT_OF_RANGE");
  EXPECT_EQ(Count(world_.tomas, facts::kSlingsMax, facts::kSlingsMax), "counted");
}

TEST_F(Counts, AFirstCountThatNamesAnotherIsFlagged) {
  EXPECT_EQ(Count(world_.tomas, 80, 0, Numbered<Token>(7)), "counted FLAG_COUNT_BASE_UNKNOWN");
  EXPECT_EQ(world_.clutch(clutch_).counts[0].state, CountState::kStanding);
}

TEST_F(Counts, ASplitOfTheTermsMakesALotForEachParty) {
  ASSERT_EQ(Count(world_.tomas, 81, 4), "counted");
  const Token count = world_.token();
  // 81 in equal parts: 40.5 each; the sling over goes to the lower keeper id, which is mira's.
  const facts::SplitRecord split = Split(41, 40, count);
  EXPECT_EQ(world_.Say(world_.mira, {split}), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 85, .in_lots = 81, .dead = 4}));
  const Clutch clutch = world_.clutch(clutch_);
  EXPECT_TRUE(clutch.shared_out);
  EXPECT_EQ(clutch.split_count, count);
  EXPECT_EQ(clutch.split.keeper, world_.mira.id);
  const Lot lot = world_.lot(split.shares[0].lot);
  EXPECT_EQ(lot.owner, world_.mira.id);
  EXPECT_EQ(lot.holder, world_.tomas.id) << "where the female was";
  EXPECT_EQ(lot.slings, 41U);
  EXPECT_EQ(world_.lot(split.shares[1].lot).slings, 40U);
}

TEST_F(Counts, RefusesASplitThatIsNotWhatTheTermsImply) {
  ASSERT_EQ(Count(world_.tomas, 81), "counted");
  const Token count = world_.token();
  EXPECT_EQ(world_.Say(world_.mira, {Split(40, 41, count)}), "refused SPLIT_DIFFERS");
  EXPECT_EQ(world_.verdict().message,
            "the split gives 40 slings to mira, and by the terms 41 are due");
  facts::SplitRecord split = Split(41, 40, count);
  std::swap(split.shares[0], split.shares[1]);
  EXPECT_EQ(world_.Say(world_.mira, {split}), "refused SPLIT_DIFFERS") << "order of the terms";
  split = Split(41, 40, count);
  split.shares.pop_back();
  EXPECT_EQ(world_.Say(world_.mira, {split}), "refused SPLIT_DIFFERS");
  split = Split(41, 40, count);
  split.shares.push_back({.keeper = world_.bela.id});
  EXPECT_EQ(world_.Say(world_.mira, {split}), "refused SPLIT_DIFFERS");
}

TEST_F(Counts, ASplitNamesTheCountThatStands) {
  EXPECT_EQ(world_.Say(world_.mira, {Split(0, 0, {})}), "refused NOT_COUNTED");
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  const Token first = world_.token();
  ASSERT_EQ(Count(world_.tomas, 60, 0, first), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(world_.Say(world_.mira, {Split(40, 40, first)}),
            fmt::format("superseded COUNT_REPLACED by {}", winner));
}

TEST_F(Counts, AClutchIsSharedOutOnce) {
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  const Token count = world_.token();
  ASSERT_EQ(world_.Say(world_.mira, {Split(40, 40, count)}), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(world_.Say(world_.tomas, {Split(40, 40, count)}),
            fmt::format("superseded ALREADY_SHARED by {}", winner));
  EXPECT_EQ(world_.clutch(clutch_).lots.size(), 2U);
}

TEST_F(Counts, OnlyAPartySharesOut) {
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {Split(40, 40, world_.token())}), "void NOT_PARTY");
  facts::SplitRecord split = Split(40, 40, world_.token());
  split.clutch = Numbered<ClutchId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {split}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Counts, WithoutALoanAllIsTheOwners) {
  const ClutchId own = world_.Lay(world_.tomas, female_);
  const Token count = world_.Count(world_.tomas, own, 30);
  const facts::SplitRecord split{
      .clutch = own,
      .count_token = count,
      .shares = {{.keeper = world_.tomas.id, .slings = 30, .lot = world_.NewId<LotId>()}}};
  EXPECT_EQ(world_.Say(world_.mira, {split}), "void NOT_OWNER");
  EXPECT_EQ(world_.Say(world_.tomas, {split}), "counted");
  EXPECT_EQ(world_.lot(split.shares[0].lot).owner, world_.tomas.id);
}

TEST_F(Counts, APartyWithoutSlingsGetsNoLot) {
  ASSERT_EQ(Count(world_.tomas, 1), "counted");
  facts::SplitRecord split = Split(1, 0, world_.token());
  split.shares[1].lot = {};
  EXPECT_EQ(world_.Say(world_.mira, {split}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).lots, std::vector<LotId>{split.shares[0].lot});
}

TEST_F(Counts, EveryShareNamesAFreshLot) {
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  facts::SplitRecord split = Split(40, 40, world_.token());
  split.shares[1].lot = split.shares[0].lot;
  EXPECT_EQ(world_.Say(world_.mira, {split}), "refused ID_TAKEN");
  split.shares[1].lot = {};
  EXPECT_EQ(world_.Say(world_.mira, {split}), "refused LOT_MISSING");
  EXPECT_TRUE(world_.clutch(clutch_).lots.empty());
}

TEST_F(Counts, ARecountAfterTheSplitBooksWhatIsInNoLot) {
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  const Token count = world_.token();
  ASSERT_EQ(world_.Say(world_.mira, {Split(40, 40, count)}), "counted");
  EXPECT_EQ(Count(world_.tomas, 79, 1, count), "refused COUNT_TOO_LOW");
  EXPECT_EQ(
      world_.verdict().message,
      fmt::format("80 slings of clutch {} are in lots, handed over or waiting to be, more than "
                  "the 79 counted; enter the losses by lot",
                  ToShortText(clutch_)));
  EXPECT_EQ(Count(world_.tomas, 83, 0, count), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 83, .undivided = 3, .in_lots = 80}));
}

TEST_F(Counts, OfOneKeeperAreSoManyAndLeaveRoomForOthers) {
  ASSERT_EQ(Count(world_.tomas, 80), "counted");
  std::string said;
  for (std::size_t i = 0; i <= kRecordsMax / 2; ++i) said = Count(world_.mira, 80);
  EXPECT_EQ(said, "refused TOO_MANY_RECORDS");
  EXPECT_EQ(Count(world_.tomas, 80), "counted FLAG_COUNT_SAME");
}

}  // namespace
}  // namespace broodpact::registry
