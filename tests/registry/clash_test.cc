// Goal: what keepers disagree about is open until they or an arbiter end it, and what ends it has
// its effect once and for all whom it binds.
// Method: a female of tomas', a male on loan from bela; mira, the registrar, is no party.

#include "fmt/core.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::UnorderedElementsAre;

class Clashes : public testing::Test {
 protected:
  Clashes()
      : male_(world_.Enter(world_.bela, "m", facts::Sex::kMale)),
        female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)),
        loan_(world_.Lend(world_.bela, world_.tomas, male_)),
        clutch_(world_.Lay(world_.tomas, female_, loan_)) {
    first_ = world_.Count(world_.tomas, clutch_, 80, 5);
  }

  std::string Object(const Member& by, const Token& count = {}) {
    return world_.Say(by, {facts::Objection{.clutch = clutch_,
                                            .count_token = count,
                                            .reason = "there were more",
                                            .day = On("2026-05-21")}});
  }
  // bela counts 84 beside tomas' 80.
  Token Rival() {
    world_.Say(world_.bela,
               {facts::Count{.clutch = clutch_, .day = On("2026-05-20"), .slings_living = 84}});
    return world_.token();
  }
  Clash Last() {
    Clash last;
    for (const Clash& clash : world_.clashes()) {
      if (clash.entry.arrival >= last.entry.arrival) last = clash;
    }
    return last;
  }
  facts::ClashSettlement Settlement() {
    return {.clash = Last().id, .words = "we counted again together"};
  }
  std::string Sign(const Member& by) {
    return world_.Say(by, {facts::ClashSignature{.clash = Last().id,
                                                 .settlement = Last().settlements.back().token}});
  }
  // By the terms: equal parts, bela first.
  void ShareOut() {
    const Token standing = world_.clutch(clutch_).counts.front().token;
    lots_ = {world_.NewId<LotId>(), world_.NewId<LotId>()};
    ASSERT_EQ(
        world_.Say(world_.bela, {facts::SplitRecord{.clutch = clutch_,
                                                    .count_token = standing,
                                                    .shares = {{world_.bela.id, 40, lots_[0]},
                                                               {world_.tomas.id, 40, lots_[1]}}}}),
        "counted");
  }

  World world_;
  AnimalId male_;
  AnimalId female_;
  LoanId loan_;
  ClutchId clutch_;
  Token first_;
  std::vector<LotId> lots_;
};

TEST_F(Clashes, APartyObjectsToACountAndAllPartiesAreShownIt) {
  EXPECT_EQ(Object(world_.iva, first_), "void NOT_PARTY");
  EXPECT_EQ(Object(world_.bela, first_), "counted");
  const Clash clash = Last();
  EXPECT_EQ(clash.reason, "OBJECTION");
  EXPECT_EQ(clash.message, fmt::format("bela objects to tomas's count of 80 living of clutch {}: "
                                       "there were more",
                                       ToShortText(clutch_)));
  EXPECT_THAT(clash.parties, UnorderedElementsAre(world_.bela.id, world_.tomas.id));
  EXPECT_EQ(world_.clutch(clutch_).objections_open, 1U);
}

TEST_F(Clashes, AnObjectionIsToACountThatThereIs) {
  EXPECT_EQ(Object(world_.bela, Numbered<Token>(9)), "refused UNKNOWN_COUNT");
  const facts::Objection objection{.clutch = clutch_, .reason = "no", .day = On("2026-05-21")};
  EXPECT_EQ(world_.Say(world_.bela, {objection, objection}), "refused OBJECTION_TWICE");
}

TEST_F(Clashes, AnObjectionIsWithdrawnByWhoMadeIt) {
  ASSERT_EQ(Object(world_.bela), "counted");
  const facts::ClashWithdrawal withdrawal{.clash = Last().id, .reason = "I miscounted"};
  EXPECT_EQ(world_.Say(world_.tomas, {withdrawal}), "void NOT_AUTHOR");
  EXPECT_EQ(world_.Say(world_.bela, {withdrawal}), "counted");
  EXPECT_EQ(Last().state, ClashState::kWithdrawn);
  EXPECT_EQ(Last().outcome, "I miscounted");
  EXPECT_EQ(world_.clutch(clutch_).objections_open, 0U);
  const std::uint64_t ended = world_.arrival();
  EXPECT_EQ(world_.Say(world_.bela, {withdrawal}),
            fmt::format("superseded CLASH_ENDED by {}", ended));
}

TEST_F(Clashes, ASplitWhileAnObjectionIsOpenIsFlaggedAndStands) {
  ASSERT_EQ(Object(world_.bela), "counted");
  EXPECT_EQ(
      world_.Say(world_.tomas,
                 {facts::SplitRecord{.clutch = clutch_,
                                     .count_token = first_,
                                     .shares = {{world_.bela.id, 40, world_.NewId<LotId>()},
                                                {world_.tomas.id, 40, world_.NewId<LotId>()}}}}),
      "counted FLAG_OBJECTION_OPEN");
}

TEST_F(Clashes, ARivalCountStandsWhenAllPartiesHaveSigned) {
  const Token rival = Rival();
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = rival;
  EXPECT_EQ(world_.Say(world_.iva, {settlement}), "void NOT_PARTY");
  EXPECT_EQ(world_.Say(world_.bela, {settlement}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).accounts.undivided, 80U) << "tomas has not signed";
  EXPECT_EQ(Sign(world_.tomas), "counted");
  const Clutch clutch = world_.clutch(clutch_);
  EXPECT_EQ(clutch.accounts, (Accounts{.hatched = 85, .undivided = 84, .unaccounted = 1}));
  EXPECT_EQ(clutch.counts[0].state, CountState::kReplaced);
  EXPECT_EQ(clutch.counts[1].state, CountState::kStanding);
  EXPECT_EQ(Last().state, ClashState::kSettled);
}

TEST_F(Clashes, ARivalCountIsSetAsideWhenTheOtherIsChosenOrItIsWithdrawn) {
  Rival();
  ASSERT_EQ(world_.Say(world_.bela, {facts::ClashWithdrawal{.clash = Last().id}}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).counts[1].state, CountState::kSetAside);
  Rival();
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = first_;
  ASSERT_EQ(world_.Say(world_.mira, {settlement}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).counts[2].state, CountState::kSetAside);
  EXPECT_EQ(world_.clutch(clutch_).accounts.undivided, 80U);
}

TEST_F(Clashes, ARegistrarWhoIsNoPartyArbitratesAlone) {
  const Token rival = Rival();
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = rival;
  EXPECT_EQ(world_.Say(world_.mira, {settlement}), "counted");
  EXPECT_EQ(Last().state, ClashState::kSettled);
  EXPECT_EQ(Last().ended.keeper, world_.mira.id);
  EXPECT_EQ(world_.clutch(clutch_).accounts.undivided, 84U);
}

TEST_F(Clashes, ARegistrarWhoIsAPartyIsNoArbiter) {
  const AnimalId female = world_.Enter(world_.mira, "g", facts::Sex::kFemale);
  clutch_ = world_.Lay(world_.mira, female);
  world_.Count(world_.mira, clutch_, 10);
  ASSERT_EQ(Object(world_.mira), "counted");
  ASSERT_EQ(Last().parties.size(), 1U);
  EXPECT_EQ(world_.Say(world_.mira, {Settlement()}), "counted") << "alone with herself";
  EXPECT_EQ(Last().settlements.back().signatures.size(), 1U) << "by her signature as a party";
}

TEST_F(Clashes, ACountChosenAfterLossesChangesByTheDifference) {
  const Token rival = Rival();
  ShareOut();
  ASSERT_EQ(world_.Say(world_.tomas,
                       {facts::LotLoss{.lot = lots_[1], .slings = 3, .day = On("2026-05-25")}}),
            "counted");
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = rival;
  ASSERT_EQ(world_.Say(world_.mira, {settlement}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).accounts,
            (Accounts{.hatched = 89, .undivided = 4, .in_lots = 77, .dead = 8}));
}

TEST_F(Clashes, ACountBelowWhatIsInLotsIsNotChosen) {
  world_.Say(world_.bela,
             {facts::Count{.clutch = clutch_, .day = On("2026-05-20"), .slings_living = 70}});
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = world_.token();
  ShareOut();
  EXPECT_EQ(world_.Say(world_.mira, {settlement}), "refused COUNT_TOO_LOW");
  EXPECT_EQ(Last().state, ClashState::kOpen);
}

TEST_F(Clashes, ACountThatLossesSinceHaveUsedUpIsNotChosen) {
  world_.Say(world_.bela,
             {facts::Count{.clutch = clutch_, .day = On("2026-05-20"), .slings_living = 78}});
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = world_.token();
  ShareOut();
  ASSERT_EQ(world_.Say(world_.tomas,
                       {facts::LotLoss{.lot = lots_[1], .slings = 5, .day = On("2026-05-25")}}),
            "counted");
  const Accounts before = world_.clutch(clutch_).accounts;
  ASSERT_EQ(before.in_lots, 75U);
  EXPECT_EQ(world_.Say(world_.mira, {settlement}), "refused COUNT_TOO_LOW")
      << "of the 78 that it would be, 75 are in lots and 5 have died in them";
  EXPECT_EQ(world_.clutch(clutch_).accounts, before);
}

TEST_F(Clashes, OneKeeperProposesSoManySettlementsAndLeavesRoomForOthers) {
  ASSERT_EQ(Object(world_.bela), "counted");
  for (std::size_t i = 0; i < kSettlementsOfOneMax; ++i) {
    ASSERT_EQ(world_.Say(world_.tomas, {Settlement()}), "counted");
  }
  EXPECT_EQ(world_.Say(world_.tomas, {Settlement()}), "refused TOO_MANY_RECORDS");
  EXPECT_EQ(Last().settlements.size(), kSettlementsOfOneMax);
  EXPECT_EQ(world_.Say(world_.bela, {Settlement()}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {Settlement()}), "counted") << "the arbiter decides";
  EXPECT_EQ(Last().state, ClashState::kSettled);
}

// Iva gets the sac while a clash is open: it is about her slings from then on.
TEST_F(Clashes, ASettlementIsSignedByWhomTheClutchConcernsNow) {
  const AnimalId dam = world_.Enter(world_.tomas, "g", facts::Sex::kFemale);
  clutch_ = world_.Lay(world_.tomas, dam);
  const Token none = world_.Count(world_.tomas, clutch_, 0);
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Count{.clutch = clutch_,
                                                   .day = On("2026-05-20"),
                                                   .slings_living = 100,
                                                   .count_token = none}}),
            "counted");
  ASSERT_EQ(Object(world_.tomas, world_.token()), "counted");
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = none;
  ASSERT_EQ(world_.Say(world_.tomas,
                       {facts::SacGift{
                           .clutch = clutch_, .receiver = world_.iva.id, .day = On("2026-05-22")}}),
            "counted");
  const Token offer = world_.token();
  ASSERT_EQ(world_.Say(world_.iva, {facts::DueAcceptance{.clutch = clutch_, .offer = offer}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {settlement}), "counted");
  EXPECT_EQ(Last().state, ClashState::kOpen) << "her slings are not his to settle";
  EXPECT_THAT(Last().parties, UnorderedElementsAre(world_.tomas.id, world_.iva.id));
  EXPECT_EQ(world_.clutch(clutch_).accounts.undivided, 100U);
  EXPECT_EQ(Sign(world_.iva), "counted");
  EXPECT_EQ(Last().state, ClashState::kSettled);
  EXPECT_EQ(world_.clutch(clutch_).accounts.undivided, 0U);
}

TEST_F(Clashes, WhoTakesAnObjectionBackLeavesTheRivalCountAsItIs) {
  const Token rival = Rival();
  const ClashId of_rival = Last().id;
  ASSERT_EQ(Object(world_.tomas, rival), "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {facts::ClashWithdrawal{.clash = Last().id}}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).counts[1].state, CountState::kRival);
  EXPECT_EQ(world_.state().Find<Clash>(of_rival)->state, ClashState::kOpen);
}

TEST_F(Clashes, AllPartiesMayShareOtherwiseThanByTheTerms) {
  ASSERT_EQ(Object(world_.bela), "counted");
  facts::ClashSettlement settlement = Settlement();
  settlement.shares = {{world_.bela.id, 30, world_.NewId<LotId>()},
                       {world_.tomas.id, 49, world_.NewId<LotId>()}};
  ASSERT_EQ(world_.Say(world_.bela, {settlement}), "counted");
  EXPECT_EQ(Sign(world_.tomas), "refused SPLIT_SUM") << "one is missing";
  EXPECT_EQ(Last().state, ClashState::kOpen);
  settlement.shares[1].slings = 50;
  ASSERT_EQ(world_.Say(world_.bela, {settlement}), "counted");
  ASSERT_EQ(Sign(world_.tomas), "counted");
  EXPECT_EQ(world_.lot(settlement.shares[0].lot).slings, 30U);
  EXPECT_EQ(world_.clutch(clutch_).parties[0].credited, 40U) << "what was due is not made up later";
}

TEST_F(Clashes, SlingsOfPartiesChangeHandsBySettlementAndThoseOfOthersDoNot) {
  ShareOut();
  ASSERT_EQ(Object(world_.bela), "counted");
  facts::ClashSettlement settlement = Settlement();
  settlement.moves = {{lots_[1], world_.bela.id, 4, world_.NewId<LotId>()}};
  ASSERT_EQ(world_.Say(world_.tomas, {settlement}), "counted");
  ASSERT_EQ(Sign(world_.bela), "counted");
  EXPECT_EQ(world_.lot(lots_[1]).slings, 36U);
  EXPECT_EQ(world_.lot(settlement.moves[0].new_lot).owner, world_.bela.id);

  const LotId sold = world_.NewId<LotId>();
  ASSERT_EQ(world_.Say(world_.tomas, {facts::LotPassing{.lot = lots_[1],
                                                        .new_lot = sold,
                                                        .receiver = world_.iva.id,
                                                        .slings = 6,
                                                        .day = On("2026-05-26")}}),
            "counted");
  ASSERT_EQ(Object(world_.bela), "counted");
  settlement = Settlement();
  settlement.moves = {{sold, world_.bela.id, 1, world_.NewId<LotId>()}};
  EXPECT_EQ(world_.Say(world_.mira, {settlement}), "refused NOT_OWNER") << "iva signed nothing";
}

// What bela and tomas share out by it makes iva a party, whose male may be the sire: she has not
// been asked.
TEST_F(Clashes, ASettlementMovesNoSlingsOfWhomItMakesAParty) {
  const AnimalId other = world_.Enter(world_.iva, "m2", facts::Sex::kMale);
  const AnimalId dam = world_.Enter(world_.tomas, "g", facts::Sex::kFemale);
  const AnimalId lent = world_.Enter(world_.bela, "m3", facts::Sex::kMale);
  facts::Agreement agreement = world_.AgreementOf(world_.bela, world_.tomas, lent);
  agreement.terms.small_clutch = {.below = 6, .party = 1};
  const LoanId loan = world_.Propose(world_.bela, agreement);
  ASSERT_EQ(world_.Sign(world_.tomas, loan), "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Pairing{.pairing = world_.NewId<PairingId>(),
                                                     .male = other,
                                                     .female = dam,
                                                     .day = On("2026-03-05")}}),
            "counted");
  clutch_ = world_.Lay(world_.tomas, dam, loan);
  const Token count = world_.Count(world_.tomas, clutch_, 5);
  const LotId all = world_.NewId<LotId>();
  ASSERT_EQ(
      world_.Say(world_.tomas,
                 {facts::SplitRecord{.clutch = clutch_,
                                     .count_token = count,
                                     .shares = {{world_.bela.id, 0}, {world_.tomas.id, 5, all}}}}),
      "counted");
  const LotId sold = world_.NewId<LotId>();
  ASSERT_EQ(world_.Say(world_.tomas, {facts::LotPassing{.lot = all,
                                                        .new_lot = sold,
                                                        .receiver = world_.iva.id,
                                                        .slings = 2,
                                                        .day = On("2026-05-26")}}),
            "counted");
  ASSERT_EQ(
      world_.Say(world_.tomas,
                 {facts::LateHatching{.clutch = clutch_, .slings = 40, .day = On("2026-05-28")}}),
      "counted");
  ASSERT_EQ(Object(world_.bela), "counted");
  facts::ClashSettlement settlement = Settlement();
  settlement.shares = {{world_.bela.id, 20, world_.NewId<LotId>()},
                       {world_.tomas.id, 20, world_.NewId<LotId>()}};
  settlement.moves = {{sold, world_.bela.id, 2, world_.NewId<LotId>()}};
  ASSERT_EQ(world_.Say(world_.tomas, {settlement}), "counted");
  EXPECT_EQ(Sign(world_.bela), "refused NOT_OWNER");
  EXPECT_EQ(world_.lot(sold).owner, world_.iva.id);
  EXPECT_EQ(world_.lot(sold).slings, 2U);
}

TEST_F(Clashes, AClashAboutAnAnimalIsSettledByWordsAlone) {
  const Token owner = world_.animal(female_).owner_token;
  const auto gift = [&](const Member& to) {
    return facts::Gift{.animal = female_, .receiver = to.id, .owner_token = owner};
  };
  ASSERT_EQ(world_.Say(world_.tomas, {gift(world_.bela)}), "counted");
  world_.Say(world_.tomas, {gift(world_.iva)});
  ASSERT_EQ(Last().reason, "TOKEN_SPENT");
  facts::ClashSettlement settlement = Settlement();
  settlement.count_token = first_;
  EXPECT_EQ(world_.Say(world_.mira, {settlement}), "refused SETTLEMENT_FORM");
  EXPECT_EQ(world_.Say(world_.tomas, {facts::ClashWithdrawal{.clash = Last().id}}),
            "refused NOT_WITHDRAWABLE");
  settlement.count_token = {};
  EXPECT_EQ(world_.Say(world_.tomas, {settlement}), "counted");
  EXPECT_EQ(Sign(world_.bela), "counted");
  EXPECT_EQ(Last().state, ClashState::kOpen);
  EXPECT_EQ(Sign(world_.iva), "counted");
  EXPECT_EQ(Last().state, ClashState::kSettled);
}

TEST_F(Clashes, ASettlementThatNobodyProposedIsNotSigned) {
  ASSERT_EQ(Object(world_.bela), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {facts::ClashSignature{.clash = Last().id,
                                                            .settlement = Numbered<Token>(3)}}),
            "refused UNKNOWN_SETTLEMENT");
  EXPECT_EQ(world_.Say(world_.bela, {Settlement(), Settlement()}), "refused SETTLEMENT_TWICE");
}

}  // namespace
}  // namespace broodpact::registry
