// Goal: slings move between keepers without one made or lost.
// Method: a clutch of 12 in one lot of tomas'.

#include "fmt/core.h"
#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Lots : public testing::Test {
 protected:
  Lots()
      : female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)),
        clutch_(world_.Lay(world_.tomas, female_)) {
    world_.Count(world_.tomas, clutch_, 12, 1);
    lot_ = world_.ShareOut(world_.tomas, clutch_);
  }

  facts::LotDispatch Dispatch(const Member& to, std::uint32_t slings) {
    return {.lot = lot_,
            .parcel = world_.NewId<LotId>(),
            .receiver = to.id,
            .slings = slings,
            .day = On("2026-05-25")};
  }
  std::string Receive(const Member& by, const LotId& parcel, std::uint32_t living,
                      std::uint32_t dead = 0) {
    return world_.Say(by, {facts::LotReceipt{.parcel = parcel,
                                             .slings_living = living,
                                             .slings_dead = dead,
                                             .day = On("2026-05-26")}});
  }
  std::string Lose(const Member& by, const LotId& lot, std::uint32_t slings) {
    return world_.Say(by, {facts::LotLoss{.lot = lot, .slings = slings, .day = On("2026-05-26")}});
  }
  facts::LotRaising Raising(std::string name) {
    return {.lot = lot_,
            .animal = world_.NewId<AnimalId>(),
            .name = std::move(name),
            .sex = facts::Sex::kFemale,
            .day = On("2026-05-27")};
  }
  // A parcel of 5 from tomas to bela.
  LotId Parcel() {
    const facts::LotDispatch dispatch = Dispatch(world_.bela, 5);
    EXPECT_EQ(world_.Say(world_.tomas, {dispatch}), "counted");
    return dispatch.parcel;
  }
  Accounts Books() { return world_.clutch(clutch_).accounts; }

  World world_;
  AnimalId female_;
  ClutchId clutch_;
  LotId lot_;
};

TEST_F(Lots, ADispatchMakesAParcelAndAReceiptHandsItOver) {
  const LotId parcel = Parcel();
  EXPECT_EQ(world_.lot(lot_).slings, 7U);
  EXPECT_EQ(world_.lot(parcel).slings, 5U);
  EXPECT_EQ(world_.lot(parcel).owner, world_.tomas.id) << "a promise until it is received";
  EXPECT_EQ(world_.lot(parcel).receiver, world_.bela.id);
  EXPECT_EQ(world_.lot(parcel).source, lot_);
  EXPECT_EQ(Books().in_lots, 12U);
  EXPECT_EQ(Receive(world_.bela, parcel, 5), "counted");
  EXPECT_EQ(world_.lot(parcel).owner, world_.bela.id);
  EXPECT_EQ(world_.lot(parcel).holder, world_.bela.id);
  EXPECT_TRUE(world_.lot(parcel).receiver.empty());
}

TEST_F(Lots, WhatArrivesDeadOrNotAtAllIsBookedOpenly) {
  const LotId parcel = Parcel();
  EXPECT_EQ(Receive(world_.bela, parcel, 3, 1), "counted FLAG_UNACCOUNTED");
  EXPECT_EQ(world_.lot(parcel).slings, 3U);
  EXPECT_EQ(world_.lot(parcel).dead, 1U);
  EXPECT_EQ(Books(), (Accounts{.hatched = 13, .in_lots = 10, .dead = 2, .unaccounted = 1}));
}

TEST_F(Lots, MoreThanWasSentIsBookedAgainstUnaccounted) {
  const LotId parcel = Parcel();
  EXPECT_EQ(Receive(world_.bela, parcel, 7), "counted FLAG_UNACCOUNTED");
  EXPECT_EQ(Books(), (Accounts{.hatched = 13, .in_lots = 14, .dead = 1, .unaccounted = -2}));
}

TEST_F(Lots, ASecondReceiptIsSuperseded) {
  const LotId parcel = Parcel();
  ASSERT_EQ(Receive(world_.bela, parcel, 5), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(Receive(world_.bela, parcel, 4),
            fmt::format("superseded ALREADY_RECEIVED by {}", winner));
  EXPECT_EQ(world_.lot(parcel).slings, 5U);
}

TEST_F(Lots, OnlyTheReceiverReceives) {
  const LotId parcel = Parcel();
  EXPECT_EQ(Receive(world_.tomas, parcel, 5), "void NOT_RECEIVER");
  EXPECT_EQ(Receive(world_.tomas, lot_, 5), "refused NOT_A_PARCEL");
  EXPECT_EQ(Receive(world_.tomas, Numbered<LotId>(99), 5), "refused UNKNOWN_SUBJECT");
}

TEST_F(Lots, RefusesToSendMoreThanThereIs) {
  EXPECT_EQ(world_.Say(world_.tomas, {Dispatch(world_.bela, 15)}), "refused INSUFFICIENT");
  EXPECT_EQ(world_.verdict().message, fmt::format("lot {} had 12, asked 15", ToShortText(lot_)));
  EXPECT_EQ(world_.Say(world_.tomas, {Dispatch(world_.bela, 0)}), "refused NO_SLINGS");
  EXPECT_EQ(world_.Say(world_.tomas, {Dispatch(world_.bela, 12)}), "counted");
}

TEST_F(Lots, TheHolderSendsToTheOwnerAndTheOwnerWhoHoldsToAnyone) {
  EXPECT_EQ(world_.Say(world_.bela, {Dispatch(world_.bela, 1)}), "void NOT_HOLDER");
  EXPECT_EQ(world_.Say(world_.tomas, {Dispatch(world_.tomas, 1)}), "refused RECEIVER_HOLDS");
  facts::LotDispatch dispatch = Dispatch(world_.bela, 1);
  dispatch.receiver = Numbered<KeeperId>(99);
  EXPECT_EQ(world_.Say(world_.tomas, {dispatch}), "refused UNKNOWN_SUBJECT");
  dispatch = Dispatch(world_.bela, 1);
  dispatch.parcel = lot_;
  EXPECT_EQ(world_.Say(world_.tomas, {dispatch}), "refused ID_TAKEN");
  dispatch = Dispatch(world_.bela, 1);
  dispatch.lot = Numbered<LotId>(99);
  EXPECT_EQ(world_.Say(world_.tomas, {dispatch}), "refused UNKNOWN_SUBJECT");

  // A lot that mira owns and tomas holds, by a loan.
  const AnimalId male = world_.Enter(world_.mira, "m", facts::Sex::kMale);
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male);
  const ClutchId shared = world_.Lay(world_.tomas, female_, loan);
  const Token count = world_.Count(world_.tomas, shared, 10);
  const auto miras = world_.NewId<LotId>();
  ASSERT_EQ(
      world_.Say(
          world_.tomas,
          {facts::SplitRecord{
              .clutch = shared,
              .count_token = count,
              .shares = {{.keeper = world_.mira.id, .slings = 5, .lot = miras},
                         {.keeper = world_.tomas.id, .slings = 5, .lot = world_.NewId<LotId>()}}}}),
      "counted");
  dispatch = Dispatch(world_.bela, 5);
  dispatch.lot = miras;
  EXPECT_EQ(world_.Say(world_.tomas, {dispatch}), "void NOT_OWNER");
  dispatch.receiver = world_.mira.id;
  EXPECT_EQ(world_.Say(world_.tomas, {dispatch}), "counted");
  EXPECT_EQ(Receive(world_.mira, dispatch.parcel, 5), "counted");
  EXPECT_EQ(world_.lot(dispatch.parcel).owner, world_.mira.id);
}

TEST_F(Lots, AParcelUnderWayIsNeitherSentOnNorRaised) {
  const LotId parcel = Parcel();
  facts::LotDispatch onward = Dispatch(world_.iva, 1);
  onward.lot = parcel;
  EXPECT_EQ(world_.Say(world_.tomas, {onward}), "refused LOT_UNDER_WAY");
  facts::LotRaising raising = Raising("r1");
  raising.lot = parcel;
  EXPECT_EQ(world_.Say(world_.tomas, {raising}), "refused LOT_UNDER_WAY");
}

TEST_F(Lots, ALossIsBookedByTheHolder) {
  EXPECT_EQ(Lose(world_.bela, lot_, 2), "void NOT_HOLDER");
  EXPECT_EQ(Lose(world_.tomas, lot_, 13), "refused INSUFFICIENT");
  EXPECT_EQ(Lose(world_.tomas, lot_, 0), "refused NO_SLINGS");
  EXPECT_EQ(Lose(world_.tomas, lot_, 2), "counted");
  EXPECT_EQ(world_.lot(lot_).slings, 10U);
  EXPECT_EQ(Books(), (Accounts{.hatched = 13, .in_lots = 10, .dead = 3}));
}

TEST_F(Lots, ASlingThatIsRaisedIsAnAnimalOfTheClutch) {
  const facts::LotRaising raising = Raising("r1");
  EXPECT_EQ(world_.Say(world_.tomas, {raising}), "counted");
  const Animal animal = world_.animal(raising.animal);
  EXPECT_EQ(animal.dam, female_);
  EXPECT_TRUE(animal.sire.empty()) << "possible sires follow from the clutch";
  EXPECT_EQ(animal.clutch, clutch_);
  EXPECT_EQ(animal.group, world_.group);
  EXPECT_EQ(animal.owner, world_.tomas.id);
  EXPECT_EQ(animal.sex_claims.front().day, On("2026-05-27"));
  EXPECT_EQ(world_.lot(lot_).raised, 1U);
  EXPECT_EQ(Books(), (Accounts{.hatched = 13, .in_lots = 11, .dead = 1, .raised = 1}));
}

TEST_F(Lots, RaisingNeedsAnOwnerWhoHoldsAFreeNameAndASling) {
  EXPECT_EQ(world_.Say(world_.bela, {Raising("r1")}), "void NOT_HOLDER");
  EXPECT_EQ(world_.Say(world_.tomas, {Raising("F")}), "refused NAME_TAKEN");
  facts::LotRaising raising = Raising("r1");
  raising.animal = female_;
  EXPECT_EQ(world_.Say(world_.tomas, {raising}), "refused ID_TAKEN");
  ASSERT_EQ(Lose(world_.tomas, lot_, 12), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {Raising("r1")}), "refused INSUFFICIENT");
}

TEST_F(Lots, RaisingOfWhatAnotherOwnsIsVoid) {
  Lot& lot = world_.state().Edit<Lot>(lot_);
  lot.owner = world_.mira.id;
  world_.state().KeepDraft();
  EXPECT_EQ(world_.Say(world_.tomas, {Raising("r1")}), "void NOT_OWNER");
}

TEST_F(Lots, ReceiptsOfALiarDoNotOverflowTheBooks) {
  Clutch& clutch = world_.state().Edit<Clutch>(clutch_);
  clutch.accounts.in_lots = 1'073'000'000;
  clutch.accounts.unaccounted = -1'072'999'988;
  world_.state().KeepDraft();
  EXPECT_EQ(Receive(world_.bela, Parcel(), 1'000'000), "refused COUNT_OUT_OF_RANGE");
}

}  // namespace
}  // namespace broodpact::registry
