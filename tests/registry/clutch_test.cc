// Goal: who records pairings and sacs, and what a sac belongs to.
// Method: a cooperative in memory.

#include "gtest/gtest.h"

#include "client/registry/interval.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Clutches : public testing::Test {
 protected:
  Clutches()
      : male_(world_.Enter(world_.mira, "m", facts::Sex::kMale)),
        female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)) {}

  facts::Pairing Pairing() {
    return {.pairing = world_.NewId<PairingId>(),
            .male = male_,
            .female = female_,
            .day = On("2026-04-01"),
            .outcome = facts::PairingOutcome::kInsertionSeen};
  }
  facts::SacLaying Laying(const LoanId& loan = {}) {
    return {.clutch = world_.NewId<ClutchId>(),
            .female = female_,
            .day = On("2026-05-01"),
            .loan = loan};
  }
  std::string Lose(const Member& by, const ClutchId& clutch) {
    return world_.Say(
        by, {facts::SacLoss{.clutch = clutch, .day = On("2026-05-10"), .cause = "mould"}});
  }
  std::string Pull(const Member& by, const ClutchId& clutch, std::string_view day) {
    return world_.Say(by, {facts::SacPulling{.clutch = clutch, .day = On(day)}});
  }

  World world_;
  AnimalId male_;
  AnimalId female_;
};

TEST_F(Clutches, APairingIsRecordedWithBothAnimals) {
  const facts::Pairing pairing = Pairing();
  EXPECT_EQ(world_.Say(world_.tomas, {pairing}), "counted");
  EXPECT_EQ(world_.animal(male_).pairings, std::vector<PairingId>{pairing.pairing});
  EXPECT_EQ(world_.animal(female_).pairings, std::vector<PairingId>{pairing.pairing});
  EXPECT_EQ(world_.Say(world_.tomas, {pairing}), "refused ID_TAKEN");
}

TEST_F(Clutches, APairingIsStatedByAKeeperOfEitherAnimal) {
  EXPECT_EQ(world_.Say(world_.mira, {Pairing()}), "counted FLAG_PAIRING_CLAIMED");
  EXPECT_EQ(world_.Say(world_.tomas, {Pairing()}), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {Pairing()}), "void NOT_YOUR_ANIMAL");
}

TEST_F(Clutches, RefusesAPairingThatTheSexesForbid) {
  facts::Pairing pairing = Pairing();
  std::swap(pairing.male, pairing.female);
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "refused SEX_CONTRADICTS");
  pairing = Pairing();
  pairing.male = female_;
  EXPECT_EQ(world_.Say(world_.tomas, {pairing}), "refused SEX_CONTRADICTS");
  pairing = Pairing();
  pairing.female = male_;
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "refused SEX_CONTRADICTS");
  pairing.male = pairing.female = world_.Enter(world_.mira, "u");
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "refused SEX_CONTRADICTS") << "with itself";
}

TEST_F(Clutches, RefusesAPairingOfWhatIsUnknown) {
  facts::Pairing pairing = Pairing();
  pairing.male = Numbered<AnimalId>(99);
  EXPECT_EQ(world_.Say(world_.tomas, {pairing}), "refused UNKNOWN_SUBJECT");
  pairing = Pairing();
  pairing.female = Numbered<AnimalId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "refused UNKNOWN_SUBJECT");
  pairing = Pairing();
  pairing.loan = Numbered<LoanId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Clutches, AMaleThatIsEatenIsDead) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Receipt{.loan = loan, .day = On("2026-03-01")}}),
            "counted");
  facts::Pairing pairing = Pairing();
  pairing.outcome = facts::PairingOutcome::kMaleEaten;
  EXPECT_EQ(world_.Say(world_.tomas, {pairing}), "counted");
  EXPECT_EQ(world_.animal(male_).death, On("2026-04-01"));
  pairing = Pairing();
  pairing.day = On("2026-04-02");
  EXPECT_EQ(world_.Say(world_.tomas, {pairing}), "counted FLAG_AFTER_DEATH");
}

TEST_F(Clutches, AMaleThatIsNotWithTheFemalesKeeperIsNotDeadByHisWord) {
  const AnimalId stranger = world_.Enter(world_.bela, "b", facts::Sex::kMale);
  facts::Pairing pairing = Pairing();
  pairing.male = stranger;
  pairing.outcome = facts::PairingOutcome::kMaleEaten;
  EXPECT_EQ(world_.Say(world_.tomas, {pairing}), "counted FLAG_DEATH_CLAIMED");
  EXPECT_FALSE(world_.animal(stranger).death.has_value());
}

TEST_F(Clutches, APairingByOneWhoHasNoPartInHerIsAClaimAndGivesNone) {
  const facts::Pairing pairing = Pairing();
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "counted FLAG_PAIRING_CLAIMED");
  const broodpact::registry::Pairing claim =
      *world_.state().Find<broodpact::registry::Pairing>(pairing.pairing);
  EXPECT_TRUE(claim.claimed);
  EXPECT_TRUE(SireOwnersOf(world_.animal(female_), On("2026-05-01"), {claim}).empty());
  EXPECT_EQ(world_.Say(world_.tomas, {Pairing()}), "counted") << "her keeper says so too";
}

TEST_F(Clutches, APartyOfALoanThatHerOwnerSignedSaysThatSheWasPaired) {
  facts::Pairing pairing = Pairing();
  pairing.loan = world_.Lend(world_.mira, world_.tomas, male_);
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "counted");
  EXPECT_FALSE(world_.state().Find<broodpact::registry::Pairing>(pairing.pairing)->claimed);
  // Their loan of another male says nothing of this one.
  pairing.pairing = world_.NewId<PairingId>();
  pairing.male = world_.Enter(world_.mira, "m2", facts::Sex::kMale);
  EXPECT_EQ(world_.Say(world_.mira, {pairing}), "counted FLAG_PAIRING_CLAIMED");
}

TEST_F(Clutches, ASacBelongsToTheMothersOwnerAndIsWhereSheIs) {
  const LoanId loan = world_.Lend(world_.tomas, world_.bela, female_);
  ASSERT_EQ(world_.Say(world_.bela, {facts::Receipt{.loan = loan, .day = On("2026-03-01")}}),
            "counted");
  const facts::SacLaying laying = Laying();
  EXPECT_EQ(world_.Say(world_.bela, {laying}), "counted");
  EXPECT_EQ(world_.clutch(laying.clutch).owner, world_.tomas.id);
  EXPECT_EQ(world_.clutch(laying.clutch).holder, world_.bela.id);
  EXPECT_EQ(world_.animal(female_).clutches, std::vector<ClutchId>{laying.clutch});
  EXPECT_EQ(world_.state().cooperative()->clutches, 1U);
  EXPECT_EQ(world_.Say(world_.bela, {laying}), "refused ID_TAKEN");
}

TEST_F(Clutches, ASacIsStatedByAKeeperOfTheMother) {
  EXPECT_EQ(world_.Say(world_.mira, {Laying()}), "void NOT_YOUR_ANIMAL");
  facts::SacLaying laying = Laying();
  laying.female = male_;
  EXPECT_EQ(world_.Say(world_.mira, {laying}), "refused SEX_CONTRADICTS");
  laying.female = Numbered<AnimalId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {laying}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Clutches, ASacGoesByALoanThatIsOrWasInForce) {
  const LoanId loan =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  EXPECT_EQ(world_.Say(world_.tomas, {Laying(loan)}), "refused LOAN_STATE");
  ASSERT_EQ(world_.Sign(world_.tomas, loan), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {Laying(loan)}), "counted");
  ASSERT_EQ(world_.Say(world_.mira, {facts::LoanClosure{.loan = loan, .day = On("2026-05-01")}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {Laying(loan)}), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {Laying(Numbered<LoanId>(99))}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Clutches, ALoanBindsTheMothersOwnerOnlyIfItIsAParty) {
  const LoanId of_female = world_.Lend(world_.tomas, world_.bela, female_);
  const LoanId of_male = world_.Lend(world_.mira, world_.bela, male_);
  ASSERT_EQ(world_.Say(world_.bela, {facts::Receipt{.loan = of_female, .day = On("2026-03-01")}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.bela, {Laying(of_male)}), "refused OWNER_NOT_PARTY");
  EXPECT_EQ(world_.Say(world_.tomas, {Laying(of_male)}), "void NOT_PARTY");
  EXPECT_EQ(world_.Say(world_.bela, {Laying(of_female)}), "counted");
}

TEST_F(Clutches, APullingIsStatedByAKeeperOfTheSacAndALaterOneReplacesIt) {
  const ClutchId clutch = world_.Lay(world_.tomas, female_);
  EXPECT_EQ(Pull(world_.mira, clutch, "2026-05-15"), "void NOT_YOUR_CLUTCH");
  EXPECT_EQ(Pull(world_.tomas, clutch, "2026-05-15"), "counted");
  EXPECT_EQ(Pull(world_.tomas, clutch, "2026-05-15"), "counted");
  EXPECT_EQ(Pull(world_.tomas, clutch, "2026-05-16"), "counted FLAG_PULLING_CHANGED");
  EXPECT_EQ(world_.clutch(clutch).pulling, On("2026-05-16"));
  EXPECT_EQ(Pull(world_.tomas, Numbered<ClutchId>(99), "2026-05-15"), "refused UNKNOWN_SUBJECT");
}

TEST_F(Clutches, ASacIsLostUntilItIsCounted) {
  const ClutchId clutch = world_.Lay(world_.tomas, female_);
  EXPECT_EQ(Lose(world_.mira, clutch), "void NOT_YOUR_CLUTCH");
  EXPECT_EQ(Lose(world_.tomas, clutch), "counted");
  EXPECT_EQ(Lose(world_.tomas, clutch), "counted FLAG_ALREADY_LOST");
  EXPECT_EQ(world_.clutch(clutch).loss, On("2026-05-10"));
  EXPECT_EQ(world_.clutch(clutch).loss_cause, "mould");
  EXPECT_EQ(
      world_.Say(world_.tomas,
                 {facts::Count{.clutch = clutch, .day = On("2026-05-20"), .slings_living = 3}}),
      "counted FLAG_COUNT_AFTER_LOSS");
  EXPECT_EQ(world_.clutch(clutch).loss, std::nullopt);
  EXPECT_EQ(Lose(world_.tomas, clutch), "refused CLUTCH_COUNTED");
}

}  // namespace
}  // namespace broodpact::registry
