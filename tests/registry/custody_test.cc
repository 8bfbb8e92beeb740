// Goal: an animal has one owner and one holder; the first spender of a token counts, the later ones
// are told; a receipt beats a promise.
// Method: a cooperative in memory, and statements that cross.

#include "fmt/core.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::ElementsAre;
using testing::UnorderedElementsAre;

class Custody : public testing::Test {
 protected:
  Custody() : male_(world_.Enter(world_.mira, "bh-m-07", facts::Sex::kMale)) {}

  facts::Gift Gift(const Member& to) {
    const Animal male = world_.animal(male_);
    return {.animal = male_,
            .receiver = to.id,
            .owner_token = male.owner_token,
            .holder_token = male.holder_token};
  }
  facts::Dispatch Dispatch(const LoanId& loan, const Member& to) {
    return {.loan = loan,
            .receiver = to.id,
            .holder_token = world_.animal(male_).holder_token,
            .day = On("2026-05-30")};
  }
  std::string Receive(const Member& by, const LoanId& loan,
                      facts::ArrivalCondition condition = facts::ArrivalCondition::kWell) {
    return world_.Say(
        by, {facts::Receipt{.loan = loan, .day = On("2026-05-31"), .condition = condition}});
  }

  World world_;
  AnimalId male_;
};

TEST_F(Custody, AGiftPassesOwnershipAndHoldingOn) {
  EXPECT_EQ(world_.Say(world_.mira, {Gift(world_.tomas)}), "counted");
  const Animal male = world_.animal(male_);
  EXPECT_EQ(male.owner, world_.tomas.id);
  EXPECT_EQ(male.holder, world_.tomas.id);
  EXPECT_EQ(male.owner_token, world_.token());
  EXPECT_EQ(male.holder_token, world_.token());
  EXPECT_EQ(male.past_owners.size(), 1U);
}

TEST_F(Custody, AGiftWithoutTheHoldingLeavesTheAnimalWhereItIs) {
  facts::Gift gift = Gift(world_.tomas);
  gift.holder_token = {};
  EXPECT_EQ(world_.Say(world_.mira, {gift}), "counted");
  EXPECT_EQ(world_.animal(male_).owner, world_.tomas.id);
  EXPECT_EQ(world_.animal(male_).holder, world_.mira.id);
}

TEST_F(Custody, OfTwoGiftsTheFirstToArriveCountsAndTheOtherIsAClash) {
  const facts::Gift first = Gift(world_.tomas);
  const facts::Gift second = Gift(world_.bela);
  ASSERT_EQ(world_.Say(world_.mira, {first}), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(world_.Say(world_.mira, {second}), fmt::format("superseded TOKEN_SPENT by {}", winner));
  EXPECT_EQ(world_.verdict().message,
            "the gift of bh-m-07 to bela came after another statement about it had arrived; it is "
            "owned by tomas now");
  EXPECT_EQ(world_.animal(male_).owner, world_.tomas.id);

  const std::vector<Clash> clashes = world_.clashes();
  ASSERT_EQ(clashes.size(), 1U);
  EXPECT_EQ(clashes[0].reason, "TOKEN_SPENT");
  EXPECT_EQ(clashes[0].subject, male_.bytes);
  EXPECT_EQ(clashes[0].winner_arrival, winner);
  EXPECT_EQ(clashes[0].loser_commit, world_.history().back().commit.hash);
  EXPECT_THAT(clashes[0].parties, ElementsAre(world_.mira.id, world_.bela.id, world_.tomas.id));
}

TEST_F(Custody, WhatBuildsOnASupersededGiftIsSupersededToo) {
  const facts::Gift second = Gift(world_.bela);
  ASSERT_EQ(world_.Say(world_.mira, {Gift(world_.tomas)}), "counted");
  world_.Say(world_.mira, {second});
  const MapSource before = world_.Flush();
  const facts::Gift dependent{
      .animal = male_, .receiver = world_.iva.id, .owner_token = world_.token()};
  EXPECT_EQ(world_.Say(world_.bela, {dependent}), "superseded TOKEN_SPENT");
  EXPECT_EQ(world_.Flush(), before) << "and is no further clash";
}

TEST_F(Custody, ATokenThatIsStillToComeSpendsNothing) {
  // What the next commit of mira will make, as far as the one before it can know.
  facts::Gift early = Gift(world_.tomas);
  early.owner_token = Numbered<Token>(77);
  EXPECT_EQ(world_.Say(world_.mira, {early}), "superseded TOKEN_SPENT");
  EXPECT_EQ(world_.animal(male_).owner, world_.mira.id);
  // Two gifts that cite each other: neither has anything to stand on.
  facts::Gift back = Gift(world_.mira);
  back.owner_token = world_.token();
  EXPECT_EQ(world_.Say(world_.tomas, {back}), "superseded TOKEN_SPENT");
  EXPECT_TRUE(world_.clashes().empty());
  EXPECT_EQ(world_.Say(world_.mira, {Gift(world_.tomas)}), "counted") << "as if nothing had been";
}

TEST_F(Custody, AStrangerToTheAnimalCannotGiveItAwayNorMakeAClash) {
  const facts::Gift gift = Gift(world_.bela);
  const MapSource before = world_.Flush();
  EXPECT_EQ(world_.Say(world_.bela, {Gift(world_.iva)}), "void NOT_OWNER");
  EXPECT_EQ(world_.Flush(), before);
  ASSERT_EQ(world_.Say(world_.mira, {Gift(world_.tomas)}), "counted");
  EXPECT_EQ(world_.Say(world_.iva, {gift}), "void NOT_OWNER") << "by a token that was mira's";
  EXPECT_TRUE(world_.clashes().empty());
}

TEST_F(Custody, RefusesAGiftToOneselfOrToNobody) {
  EXPECT_EQ(world_.Say(world_.mira, {Gift(world_.mira)}), "refused RECEIVER_IS_GIVER");
  facts::Gift gift = Gift(world_.tomas);
  gift.receiver = Numbered<KeeperId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {gift}), "refused UNKNOWN_SUBJECT");
  gift = Gift(world_.tomas);
  gift.animal = Numbered<AnimalId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {gift}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Custody, OneCommitPassesAnAnimalOnOnce) {
  EXPECT_EQ(world_.Say(world_.mira, {Gift(world_.tomas), Gift(world_.bela)}),
            "refused TOKEN_TWICE");
  EXPECT_TRUE(world_.clashes().empty());
  EXPECT_EQ(world_.animal(male_).owner, world_.mira.id);
}

TEST_F(Custody, RefusesToGiveAwayWhatIsPromisedToALoan) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  EXPECT_EQ(world_.Say(world_.mira, {Gift(world_.bela)}), "refused PROMISED_TO_LOAN");
  ASSERT_EQ(world_.Say(world_.mira, {facts::LoanClosure{.loan = loan, .day = On("2026-05-31")}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.mira, {Gift(world_.bela)}), "counted");
}

TEST_F(Custody, ADispatchPromisesAndAReceiptMoves) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  ASSERT_EQ(world_.Say(world_.mira, {Dispatch(loan, world_.tomas)}), "counted");
  EXPECT_EQ(world_.animal(male_).holder, world_.mira.id);
  EXPECT_EQ(world_.animal(male_).receiver, world_.tomas.id);
  EXPECT_EQ(world_.animal(male_).holder_token, world_.token());
  ASSERT_EQ(Receive(world_.tomas, loan), "counted");
  EXPECT_EQ(world_.animal(male_).holder, world_.tomas.id);
  EXPECT_TRUE(world_.animal(male_).receiver.empty());
  EXPECT_EQ(world_.animal(male_).owner, world_.mira.id) << "a loan is no gift";
  EXPECT_EQ(world_.loan(loan).dispatch, On("2026-05-30"));
  EXPECT_EQ(world_.loan(loan).receipt, On("2026-05-31"));
  EXPECT_TRUE(world_.clashes().empty());
}

TEST_F(Custody, AReceiptNeedsNoPromise) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  EXPECT_EQ(Receive(world_.tomas, loan), "counted");
  EXPECT_EQ(world_.animal(male_).holder, world_.tomas.id);
}

TEST_F(Custody, ReceiptBeatsAnEarlierPromise) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  ASSERT_EQ(Receive(world_.tomas, loan), "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {Dispatch(loan, world_.mira)}), "counted");
  const std::uint64_t promise = world_.arrival();
  EXPECT_EQ(Receive(world_.tomas, loan), "counted PROMISE_BROKEN") << "it came back to tomas";
  EXPECT_EQ(world_.animal(male_).holder, world_.tomas.id);
  EXPECT_TRUE(world_.animal(male_).receiver.empty());
  const std::vector<Clash> clashes = world_.clashes();
  ASSERT_EQ(clashes.size(), 1U);
  EXPECT_EQ(clashes[0].reason, "PROMISE_BROKEN");
  EXPECT_EQ(clashes[0].loser_arrival, promise);
  EXPECT_EQ(clashes[0].winner_arrival, world_.arrival());
  EXPECT_THAT(clashes[0].parties, UnorderedElementsAre(world_.mira.id, world_.tomas.id));
}

TEST_F(Custody, ADispatchByASpentHoldingIsSupersededByTheReceiptThatSpentIt) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  const facts::Dispatch late = Dispatch(loan, world_.tomas);
  ASSERT_EQ(Receive(world_.tomas, loan), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(world_.Say(world_.mira, {late}), fmt::format("superseded TOKEN_SPENT by {}", winner));
  EXPECT_EQ(world_.clashes().size(), 1U);
  EXPECT_EQ(world_.animal(male_).holder, world_.tomas.id);
}

TEST_F(Custody, ATokenIsSpentByTheNextOneInItsTimeline) {
  const facts::Gift first = Gift(world_.tomas);
  const facts::Gift late = Gift(world_.iva);
  ASSERT_EQ(world_.Say(world_.mira, {first}), "counted");
  const std::uint64_t winner = world_.arrival();
  ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.bela)}), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {late}), fmt::format("superseded TOKEN_SPENT by {}", winner));
}

TEST_F(Custody, AnAnimalRemembersItsLastCustodiesOnly) {
  const facts::Gift oldest = Gift(world_.iva);
  const Member* to = &world_.tomas;
  const Member* from = &world_.mira;
  for (std::size_t i = 0; i <= kCustodiesKept; ++i) {
    ASSERT_EQ(world_.Say(*from, {Gift(*to)}), "counted");
    std::swap(from, to);
  }
  EXPECT_EQ(world_.animal(male_).past_owners.size(), kCustodiesKept);
  EXPECT_EQ(world_.Say(world_.mira, {oldest}), "superseded TOKEN_SPENT") << "by what, is forgotten";
}

TEST_F(Custody, OnlyTheHolderDispatchesAndOnlyBetweenLenderAndBorrower) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  EXPECT_EQ(world_.Say(world_.tomas, {Dispatch(loan, world_.tomas)}), "void NOT_HOLDER");
  EXPECT_EQ(world_.Say(world_.mira, {Dispatch(loan, world_.bela)}), "refused RECEIVER_NOT_PARTY");
  EXPECT_EQ(world_.Say(world_.mira, {Dispatch(loan, world_.mira)}), "refused RECEIVER_HOLDS");
  EXPECT_EQ(world_.Say(world_.mira, {Dispatch(Numbered<LoanId>(99), world_.tomas)}),
            "refused UNKNOWN_SUBJECT");
}

TEST_F(Custody, HandoversNeedALoanInForce) {
  const LoanId loan =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  EXPECT_EQ(world_.Say(world_.mira, {Dispatch(loan, world_.tomas)}), "refused LOAN_STATE");
  EXPECT_EQ(Receive(world_.tomas, loan), "refused LOAN_STATE");
  EXPECT_EQ(Receive(world_.bela, loan), "void NOT_PARTY");
  EXPECT_EQ(Receive(world_.bela, Numbered<LoanId>(99)), "refused UNKNOWN_SUBJECT");
}

TEST_F(Custody, ReceivingWhatOneHoldsIsFlagged) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  const Token holding = world_.animal(male_).holder_token;
  EXPECT_EQ(Receive(world_.mira, loan), "counted FLAG_ALREADY_HELD");
  EXPECT_EQ(world_.animal(male_).holder_token, holding) << "nothing is spent";
  EXPECT_FALSE(world_.loan(loan).receipt) << "nothing was received";
}

TEST_F(Custody, DeadOnArrivalIsADeath) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  EXPECT_EQ(Receive(world_.tomas, loan, facts::ArrivalCondition::kDead), "counted");
  EXPECT_EQ(world_.animal(male_).death, On("2026-05-31"));
  EXPECT_EQ(world_.animal(male_).death_cause, "dead on arrival");
}

TEST_F(Custody, AProvisionalWinnerHasNoArrival) {
  const facts::Gift second = Gift(world_.bela);
  ASSERT_EQ(world_.SayProvisionally(world_.mira, {Gift(world_.tomas)}), "counted");
  EXPECT_EQ(world_.SayProvisionally(world_.mira, {second}), "superseded TOKEN_SPENT");
  EXPECT_EQ(world_.clashes().size(), 1U);
}

}  // namespace
}  // namespace broodpact::registry
