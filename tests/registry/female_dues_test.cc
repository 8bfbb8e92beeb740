// Goal: which dues run with a female follows from her pairings, loans and sacs alone.
// Method: values made by hand.

#include "client/registry/female_dues.h"

#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class FemaleDues : public testing::Test {
 protected:
  FemaleDues() {
    female_.id = Numbered<AnimalId>(1);
    female_.owner = owner_;
    mating_.loans = {LoanOf(5), LoanOf(4)};
    for (const Loan& loan : mating_.loans) {
      mating_.pairings.push_back({.male = Numbered<AnimalId>(2),
                                  .female = female_.id,
                                  .day = On("2026-04-10"),
                                  .loan = loan.id});
    }
  }

  Loan LoanOf(std::uint32_t number) {
    Loan loan;
    loan.id = Numbered<LoanId>(number);
    loan.state = LoanState::kInForce;
    loan.parties = {Numbered<KeeperId>(number), owner_};
    return loan;
  }
  std::vector<LoanId> Dues() { return DuesOf(female_, mating_); }

  KeeperId owner_ = Numbered<KeeperId>(9);
  Animal female_;
  Mating mating_;
};

TEST_F(FemaleDues, AreThoseOfAllHerLoansInOrderOfId) {
  EXPECT_EQ(Dues(), (std::vector<LoanId>{Numbered<LoanId>(4), Numbered<LoanId>(5)}));
}

TEST_F(FemaleDues, AreNotThoseOfALoanThatNeverWasInForce) {
  mating_.loans[0].state = LoanState::kDeclined;
  mating_.loans[1].state = LoanState::kClosed;
  EXPECT_EQ(Dues(), (std::vector<LoanId>{Numbered<LoanId>(4)})) << "a closed one still has its due";
}

TEST_F(FemaleDues, AreNoneWhereSheRefusedOrHerOwnerDidNotSign) {
  mating_.pairings[0].outcome = facts::PairingOutcome::kRefused;
  mating_.loans[1].parties.pop_back();
  EXPECT_TRUE(Dues().empty());
}

TEST_F(FemaleDues, AreNoneOfADeadOneOrBeforeHerMoult) {
  female_.moults = {{.day = On("2026-05-01")}};
  EXPECT_TRUE(Dues().empty());
  female_.moults.clear();
  female_.death = On("2026-05-01");
  EXPECT_TRUE(Dues().empty());
}

TEST_F(FemaleDues, StandForWhoTookThemOver) {
  const KeeperId buyer = Numbered<KeeperId>(8);
  const Loan& loan = mating_.loans[0];
  EXPECT_EQ(SeatOf(female_, loan, owner_), owner_);
  EXPECT_TRUE(SeatOf(female_, loan, buyer).empty());
  female_.dues = {{.loan = loan.id, .party = owner_, .keeper = buyer}};
  EXPECT_EQ(SeatOf(female_, loan, buyer), owner_);
}

}  // namespace
}  // namespace broodpact::registry
