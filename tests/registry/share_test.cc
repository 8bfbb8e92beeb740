// Goal: a share is given up, passed on, added to and inherited without a sling made or lost.
// Method: a female of tomas', a male on loan from bela; 80 slings in equal parts.

#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Shares : public testing::Test {
 protected:
  Shares()
      : male_(world_.Enter(world_.bela, "m", facts::Sex::kMale)),
        female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)),
        loan_(world_.Lend(world_.bela, world_.tomas, male_)),
        clutch_(world_.Lay(world_.tomas, female_, loan_)) {
    count_ = world_.Count(world_.tomas, clutch_, 80);
  }

  // What bela and tomas get.
  std::string Split(std::uint32_t bela, std::uint32_t tomas, KeeperId for_bela = {}) {
    if (for_bela.empty()) for_bela = world_.bela.id;
    lots_ = {bela > 0 ? world_.NewId<LotId>() : LotId{},
             tomas > 0 ? world_.NewId<LotId>() : LotId{}};
    return world_.Say(world_.tomas,
                      {facts::SplitRecord{.clutch = clutch_,
                                          .count_token = count_,
                                          .shares = {{for_bela, bela, lots_[0]},
                                                     {world_.tomas.id, tomas, lots_[1]}}}});
  }
  std::string Waive(const Member& by, const Member& party, const KeeperId& receiver = {}) {
    return world_.Say(
        by, {facts::ShareWaiver{.clutch = clutch_, .party = party.id, .receiver = receiver}});
  }
  std::string HatchLate(const Member& by, std::uint32_t slings) {
    return world_.Say(
        by, {facts::LateHatching{.clutch = clutch_, .slings = slings, .day = On("2026-05-28")}});
  }
  std::string Return(const Member& by, const LotId& lot, std::uint32_t slings) {
    return world_.Say(by,
                      {facts::LotReturn{.lot = lot, .slings = slings, .day = On("2026-05-28")}});
  }
  Accounts Books() { return world_.clutch(clutch_).accounts; }

  World world_;
  AnimalId male_;
  AnimalId female_;
  LoanId loan_;
  ClutchId clutch_;
  Token count_;
  std::vector<LotId> lots_;
};

TEST_F(Shares, LateHatchingIsBookedAndSharedByTheNextSplit) {
  ASSERT_EQ(Split(40, 40), "counted");
  EXPECT_EQ(HatchLate(world_.iva, 5), "void NOT_YOUR_CLUTCH");
  EXPECT_EQ(HatchLate(world_.tomas, 5), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 85, .undivided = 5, .in_lots = 80}));
  // Of 85, 42.5 each; the sling over goes to the lower keeper id, which is tomas'.
  EXPECT_EQ(Split(3, 2), "refused SPLIT_DIFFERS");
  EXPECT_EQ(Split(2, 3), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 85, .in_lots = 85}));
  EXPECT_EQ(world_.clutch(clutch_).parties[0].credited, 42U);
  const std::string beaten = "superseded ALREADY_SHARED by " + std::to_string(world_.arrival());
  EXPECT_EQ(Split(0, 0), beaten);
}

TEST_F(Shares, LateHatchingIsOfACountedClutch) {
  clutch_ = world_.Lay(world_.tomas, female_);
  EXPECT_EQ(HatchLate(world_.tomas, 5), "refused NOT_COUNTED");
  count_ = world_.Count(world_.tomas, clutch_, facts::kSlingsMax, facts::kSlingsMax);
  EXPECT_EQ(HatchLate(world_.tomas, 1), "refused COUNT_OUT_OF_RANGE");
}

TEST_F(Shares, AShareGivenUpGoesToTheRest) {
  EXPECT_EQ(Waive(world_.tomas, world_.bela), "void NOT_PARTY");
  EXPECT_EQ(Waive(world_.iva, world_.iva), "refused UNKNOWN_PARTY");
  ASSERT_EQ(Waive(world_.bela, world_.bela), "counted");
  EXPECT_EQ(Waive(world_.bela, world_.bela), "refused SHARE_WAIVED");
  EXPECT_EQ(Split(40, 40), "refused SPLIT_DIFFERS");
  EXPECT_EQ(Split(0, 80), "counted");
}

TEST_F(Shares, TheLastShareIsNotGivenUp) {
  ASSERT_EQ(Waive(world_.bela, world_.bela), "counted");
  EXPECT_EQ(Waive(world_.tomas, world_.tomas), "refused LAST_SHARE");
  EXPECT_EQ(Waive(world_.tomas, world_.tomas, world_.iva.id), "counted") << "passed on it may be";
}

TEST_F(Shares, AShareIsPassedOnByWhoHasIt) {
  EXPECT_EQ(Waive(world_.bela, world_.bela, world_.bela.id), "refused RECEIVER_IS_GIVER");
  ASSERT_EQ(Waive(world_.bela, world_.bela, world_.iva.id), "counted");
  EXPECT_EQ(Waive(world_.bela, world_.bela, world_.mira.id), "void NOT_PARTY") << "it is iva's now";
  EXPECT_EQ(Split(40, 40), "refused SPLIT_DIFFERS");
  EXPECT_EQ(Split(40, 40, world_.iva.id), "counted");
  EXPECT_EQ(world_.lot(lots_[0]).owner, world_.iva.id);
}

TEST_F(Shares, SlingsGivenBackGoToTheRestByTheNextSplit) {
  ASSERT_EQ(Split(40, 40), "counted");
  const LotId belas = lots_[0];
  EXPECT_EQ(Return(world_.tomas, belas, 10), "void NOT_OWNER");
  EXPECT_EQ(Return(world_.bela, belas, 41), "refused INSUFFICIENT");
  ASSERT_EQ(Return(world_.bela, belas, 10), "counted");
  EXPECT_EQ(Books(), (Accounts{.hatched = 80, .undivided = 10, .in_lots = 70}));
  EXPECT_EQ(Split(10, 0), "refused SPLIT_DIFFERS");
  EXPECT_EQ(Split(0, 10), "counted");
  EXPECT_EQ(Return(world_.tomas, lots_[1], 1), "refused LAST_SHARE");
}

TEST_F(Shares, SlingsHandedOverAreNotGivenBack) {
  ASSERT_EQ(Split(40, 40), "counted");
  const facts::LotDispatch dispatch{.lot = lots_[0],
                                    .parcel = world_.NewId<LotId>(),
                                    .receiver = world_.bela.id,
                                    .slings = 40,
                                    .day = On("2026-05-25")};
  ASSERT_EQ(world_.Say(world_.tomas, {dispatch}), "counted");
  EXPECT_EQ(Return(world_.bela, dispatch.parcel, 1), "refused LOT_UNDER_WAY");
  ASSERT_EQ(world_.Say(world_.bela, {facts::LotReceipt{.parcel = dispatch.parcel,
                                                       .slings_living = 40,
                                                       .day = On("2026-05-26")}}),
            "counted");
  EXPECT_EQ(Return(world_.bela, dispatch.parcel, 1), "refused LOT_HANDED_OVER");
}

TEST_F(Shares, OnlyAPartyGivesSlingsBack) {
  ASSERT_EQ(Split(40, 40), "counted");
  const facts::LotPassing passing{.lot = lots_[0],
                                  .new_lot = world_.NewId<LotId>(),
                                  .receiver = world_.iva.id,
                                  .slings = 5,
                                  .day = On("2026-05-25")};
  ASSERT_EQ(world_.Say(world_.bela, {passing}), "counted");
  EXPECT_EQ(Return(world_.iva, passing.new_lot, 5), "void NOT_PARTY");
}

TEST_F(Shares, AKeeperWhoLeavesNamesWhoHasItsLotsAndDues) {
  ASSERT_EQ(Split(40, 40), "counted");
  const facts::LotDispatch dispatch{.lot = lots_[0],
                                    .parcel = world_.NewId<LotId>(),
                                    .receiver = world_.bela.id,
                                    .slings = 40,
                                    .day = On("2026-05-25")};
  ASSERT_EQ(world_.Say(world_.tomas, {dispatch}), "counted");
  const facts::LotReceipt receipt{
      .parcel = dispatch.parcel, .slings_living = 40, .day = On("2026-05-26")};
  EXPECT_EQ(world_.Say(world_.iva, {receipt}), "void NOT_RECEIVER");
  ASSERT_EQ(world_.Say(world_.bela, {facts::Succession{.keeper = world_.bela.id,
                                                       .successor = world_.iva.id,
                                                       .day = On("2026-05-26")}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.iva, {receipt}), "counted");
  EXPECT_EQ(world_.lot(dispatch.parcel).owner, world_.iva.id);
  ASSERT_EQ(HatchLate(world_.tomas, 2), "counted");
  EXPECT_EQ(Waive(world_.iva, world_.bela), "counted") << "the due is hers too";
}

TEST_F(Shares, ARegistrarArbitratesWhoFollowsAKeeperWhoNamedNobody) {
  const auto succession = [&](const Member& successor) {
    return facts::Succession{
        .keeper = world_.bela.id, .successor = successor.id, .day = On("2026-05-26")};
  };
  EXPECT_EQ(world_.Say(world_.mira, {succession(world_.mira)}), "refused KEEPER_HAS_DEVICE")
      << "bela is here";
  ASSERT_EQ(world_.Say(world_.bela, {facts::Leaving{}}), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {succession(world_.tomas)}), "void NOT_REGISTRAR");
  EXPECT_EQ(world_.Say(world_.mira, {succession(world_.bela)}), "refused SUCCESSOR_ITSELF");
  EXPECT_EQ(world_.Say(world_.mira, {succession(world_.mira)}), "counted");
  EXPECT_EQ(Waive(world_.mira, world_.bela, world_.iva.id), "counted");
}

TEST_F(Shares, ARegistrarNamesNoOtherSuccessorThanTheKeeperDid) {
  ASSERT_EQ(world_.Say(world_.bela, {facts::Succession{.keeper = world_.bela.id,
                                                       .successor = world_.iva.id,
                                                       .day = On("2026-05-26")},
                                     facts::Leaving{}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.mira, {facts::Succession{.keeper = world_.bela.id,
                                                       .successor = world_.mira.id,
                                                       .day = On("2026-05-26")}}),
            "refused SUCCESSOR_NAMED");
  EXPECT_EQ(Waive(world_.iva, world_.bela, world_.iva.id), "counted");
}

// All seats of a clutch are given up when an amendment leaves the last other party out.
TEST_F(Shares, WithoutAnybodyLeftToShareNoSlingVanishes) {
  ASSERT_EQ(Waive(world_.bela, world_.bela), "counted");
  world_.state().Edit<Clutch>(clutch_).parties[1].waived = true;
  world_.state().KeepDraft();
  EXPECT_EQ(Split(0, 0), "refused SPLIT_SUM");
  EXPECT_EQ(Books().undivided, 80U);
}

TEST_F(Shares, PassedToAndFroLeaveRoomForASplit) {
  std::string said = "counted";
  bool with_iva = false;
  for (std::size_t i = 0; said == "counted" && i <= kRecordsMax; ++i) {
    const Member& giver = with_iva ? world_.iva : world_.bela;
    said = Waive(giver, world_.bela, with_iva ? world_.bela.id : world_.iva.id);
    if (said == "counted") with_iva = !with_iva;
  }
  EXPECT_EQ(said, "refused TOO_MANY_RECORDS");
  EXPECT_EQ(HatchLate(world_.tomas, 2), "counted");
  EXPECT_EQ(Split(41, 41, with_iva ? world_.iva.id : world_.bela.id), "counted");
}

}  // namespace
}  // namespace broodpact::registry
