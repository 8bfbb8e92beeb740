// Goal: lots are divided, merged and passed on, and dead arrivals made good, without a sling made
// or lost, and every lot tells how it came to what it has.
// Method: a clutch of 12 in one lot of tomas'.

#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class LotChanges : public testing::Test {
 protected:
  LotChanges()
      : female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)),
        clutch_(world_.Lay(world_.tomas, female_)) {
    world_.Count(world_.tomas, clutch_, 12, 1);
    lot_ = world_.ShareOut(world_.tomas, clutch_);
  }

  LotId Divide(std::uint32_t slings) {
    const auto id = world_.NewId<LotId>();
    EXPECT_EQ(
        world_.Say(world_.tomas,
                   {facts::LotDivision{
                       .lot = lot_, .new_lot = id, .slings = slings, .day = On("2026-05-25")}}),
        "counted");
    return id;
  }
  std::string Merge(const LotId& into, std::vector<LotId> merged) {
    return world_.Say(world_.tomas,
                      {facts::LotMerging{.lot = into, .merged = merged, .day = On("2026-05-26")}});
  }
  // A parcel from tomas to bela.
  LotId Send(std::uint32_t slings, const LotId& replaced = {}) {
    const auto id = world_.NewId<LotId>();
    sent_ = world_.Say(world_.tomas, {facts::LotDispatch{.lot = lot_,
                                                         .parcel = id,
                                                         .receiver = world_.bela.id,
                                                         .slings = slings,
                                                         .day = On("2026-05-25"),
                                                         .replaced = replaced}});
    return id;
  }
  std::string Receive(const LotId& parcel, std::uint32_t living, std::uint32_t dead) {
    return world_.Say(world_.bela, {facts::LotReceipt{.parcel = parcel,
                                                      .slings_living = living,
                                                      .slings_dead = dead,
                                                      .day = On("2026-05-26")}});
  }

  World world_;
  AnimalId female_;
  ClutchId clutch_;
  LotId lot_;
  std::string sent_;
};

TEST_F(LotChanges, ALotIsDividedByOwnerOrHolderAndMergedAgain) {
  const LotId part = Divide(5);
  EXPECT_EQ(world_.lot(lot_).slings, 7U);
  EXPECT_EQ(world_.lot(part).slings, 5U);
  EXPECT_EQ(world_.lot(part).source, lot_);
  EXPECT_EQ(world_.Say(world_.iva, {facts::LotMerging{.lot = lot_, .merged = {part}}}),
            "void NOT_HOLDER");
  EXPECT_EQ(Merge(lot_, {part}), "counted");
  EXPECT_EQ(world_.lot(lot_).slings, 12U);
  EXPECT_EQ(world_.lot(part).slings, 0U);
  EXPECT_EQ(world_.clutch(clutch_).accounts.in_lots, 12U);
}

TEST_F(LotChanges, RefusesToMergeWhatDiffersOrIsNamedTwice) {
  const LotId part = Divide(5);
  EXPECT_EQ(Merge(lot_, {part, part}), "refused LOT_TWICE");
  EXPECT_EQ(Merge(lot_, {lot_}), "refused LOT_TWICE");
  const LotId parcel = Send(2);
  EXPECT_EQ(Merge(lot_, {parcel}), "refused LOT_UNDER_WAY");
  ASSERT_EQ(Receive(parcel, 2, 0), "counted");
  EXPECT_EQ(Merge(lot_, {parcel}), "refused LOTS_DIFFER");
}

TEST_F(LotChanges, AnOwnerPassesSlingsOnWhereTheyAre) {
  const auto id = world_.NewId<LotId>();
  facts::LotPassing passing{.lot = lot_,
                            .new_lot = id,
                            .receiver = world_.tomas.id,
                            .slings = 3,
                            .day = On("2026-05-25")};
  EXPECT_EQ(world_.Say(world_.tomas, {passing}), "refused RECEIVER_IS_GIVER");
  passing.receiver = world_.iva.id;
  EXPECT_EQ(world_.Say(world_.bela, {passing}), "void NOT_OWNER");
  EXPECT_EQ(world_.Say(world_.tomas, {passing}), "counted");
  EXPECT_EQ(world_.lot(id).owner, world_.iva.id);
  EXPECT_EQ(world_.lot(id).holder, world_.tomas.id);
}

TEST_F(LotChanges, DeadArrivalsAreMadeGoodByALaterParcel) {
  const LotId parcel = Send(5);
  ASSERT_EQ(Receive(parcel, 3, 2), "counted");
  EXPECT_EQ(world_.lot(parcel).dead_on_arrival, 2U);
  EXPECT_EQ(world_.lot(parcel).sender, world_.tomas.id);
  const LotId second = Send(3, parcel);
  ASSERT_EQ(sent_, "counted");
  EXPECT_EQ(world_.lot(parcel).made_good, 0U) << "a promise until it is received";
  ASSERT_EQ(Receive(second, 3, 0), "counted");
  EXPECT_EQ(world_.lot(parcel).made_good, 2U) << "never more than died";
  Send(1, parcel);
  EXPECT_EQ(sent_, "refused NOTHING_TO_REPLACE");
}

TEST_F(LotChanges, TheReceiversOwnSlingsMakeNothingGood) {
  const LotId parcel = Send(5);
  ASSERT_EQ(Receive(parcel, 3, 2), "counted");
  const auto own = world_.NewId<LotId>();
  ASSERT_EQ(world_.Say(world_.tomas, {facts::LotPassing{.lot = lot_,
                                                        .new_lot = own,
                                                        .receiver = world_.bela.id,
                                                        .slings = 2,
                                                        .day = On("2026-05-27")}}),
            "counted");
  lot_ = own;
  Send(2, parcel);
  EXPECT_EQ(sent_, "refused NOTHING_TO_REPLACE");
}

TEST_F(LotChanges, EveryLotTellsItsStory) {
  const LotId part = Divide(5);
  const std::vector<SlingEvent> whole = world_.lot(lot_).events;
  ASSERT_EQ(whole.size(), 2U);
  EXPECT_EQ(whole[0].kind, SlingEventKind::kShared);
  EXPECT_EQ(whole[0].slings, 12U);
  EXPECT_EQ(whole[1].kind, SlingEventKind::kDivided);
  EXPECT_EQ(whole[1].lot, part);
  EXPECT_EQ(whole[1].entry.keeper, world_.tomas.id);
  const std::vector<SlingEvent> taken = world_.lot(part).events;
  ASSERT_EQ(taken.size(), 1U);
  EXPECT_EQ(taken[0].kind, SlingEventKind::kTaken);
  EXPECT_EQ(taken[0].lot, lot_);
}

// A sling goes from lot to lot, as often as there is room.
TEST_F(LotChanges, OneKeeperMakesSoManyLotsAndLeavesRoomForOthers) {
  const LotId parcel = Send(4);
  ASSERT_EQ(Receive(parcel, 4, 0), "counted");
  LotId from = lot_;
  std::string said = "counted";
  std::size_t made = 1;  // the parcel
  for (; said == "counted" && made < kRecordsMax; ++made) {
    const auto to = world_.NewId<LotId>();
    said = world_.Say(
        world_.tomas,
        {facts::LotDivision{.lot = from, .new_lot = to, .slings = 1, .day = On("2026-05-25")}});
    from = to;
  }
  EXPECT_EQ(said, "refused TOO_MANY_RECORDS");
  EXPECT_EQ(world_.clutch(clutch_).lots.size(), kRecordsMax / 2);
  EXPECT_EQ(world_.Say(world_.bela, {facts::LotDivision{.lot = parcel,
                                                        .new_lot = world_.NewId<LotId>(),
                                                        .slings = 1,
                                                        .day = On("2026-05-25")}}),
            "counted");
}

}  // namespace
}  // namespace broodpact::registry
