// Goal: the due runs with a mated female and with a sac: it is disclosed when they are given away,
// and who takes them signs for it and takes the giver's place.
// Method: tomas' female, paired with a male on loan from bela; iva takes her.

#include "gtest/gtest.h"

#include "client/registry/female_dues.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Dues : public testing::Test {
 protected:
  Dues()
      : male_(world_.Enter(world_.bela, "m", facts::Sex::kMale)),
        female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)),
        loan_(world_.Lend(world_.bela, world_.tomas, male_)) {}

  void Pair() {
    ASSERT_EQ(world_.Say(world_.tomas, {facts::Pairing{.pairing = world_.NewId<PairingId>(),
                                                       .male = male_,
                                                       .female = female_,
                                                       .day = On("2026-04-10"),
                                                       .loan = loan_}}),
              "counted");
  }
  facts::Gift Gift(const Member& to, std::vector<LoanId> dues = {}) {
    const Animal female = world_.animal(female_);
    return {.animal = female_,
            .receiver = to.id,
            .owner_token = female.owner_token,
            .holder_token = female.holder_token,
            .due_loans = std::move(dues)};
  }
  void GiveToIva() {
    Pair();
    ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.iva, {loan_})}), "counted");
    ASSERT_EQ(world_.Say(world_.iva, {Acceptance()}), "counted");
  }
  // Bela and tomas agree anew, on three parts for tomas; others as `change` adds them sign too.
  template <typename Change>
  void Amend(Change change, const std::vector<const Member*>& signers) {
    facts::Agreement agreement = world_.AgreementOf(world_.bela, world_.tomas, male_, 3);
    agreement.loan = loan_;
    agreement.replaces = world_.loan(loan_).agreement_digest;
    change(agreement.terms);
    facts::LoanAmendment amendment;
    amendment.agreement = facts::BuildAgreement(agreement);
    amendment.agreement_digest = Sha256(amendment.agreement);
    amendment.parsed = agreement;
    ASSERT_EQ(world_.Say(world_.bela, {amendment}), "counted");
    for (const Member* signer : signers) {
      ASSERT_EQ(
          world_.Say(*signer, {facts::LoanSignature{
                                  .loan = loan_, .agreement_digest = amendment.agreement_digest}}),
          "counted");
    }
    ASSERT_EQ(world_.loan(loan_).agreement_digest, amendment.agreement_digest);
  }
  // Iva counts 80 slings, and shares them with bela in equal parts.
  std::string ShareEqually(const ClutchId& clutch) {
    const Token count = world_.Count(world_.iva, clutch, 80);
    return world_.Say(world_.iva,
                      {facts::SplitRecord{.clutch = clutch,
                                          .count_token = count,
                                          .shares = {{world_.bela.id, 40, world_.NewId<LotId>()},
                                                     {world_.iva.id, 40, world_.NewId<LotId>()}}}});
  }
  std::string LayAfterwards() {
    clutch_ = world_.NewId<ClutchId>();
    return world_.Say(
        world_.iva,
        {facts::SacLaying{
            .clutch = clutch_, .female = female_, .day = On("2026-06-02"), .loan = loan_}});
  }
  facts::DueAcceptance Acceptance() {
    return {.animal = female_,
            .offer = world_.animal(female_).offer->token,
            .agreement_digests = {world_.loan(loan_).agreement_digest}};
  }

  World world_;
  AnimalId male_;
  AnimalId female_;
  LoanId loan_;
  ClutchId clutch_{};
};

TEST_F(Dues, RunWithAFemaleSinceSheWasPairedUnderALoan) {
  EXPECT_EQ(world_.Say(world_.tomas, {Gift(world_.iva, {loan_})}), "refused DUE_OTHER");
  Pair();
  EXPECT_EQ(world_.Say(world_.tomas, {Gift(world_.iva)}), "refused DUE_UNDISCLOSED");
}

TEST_F(Dues, EndWithHerMoult) {
  Pair();
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Moult{.animal = female_, .day = On("2026-05-02")}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {Gift(world_.iva)}), "counted");
  EXPECT_EQ(world_.animal(female_).owner, world_.iva.id);
}

TEST_F(Dues, AnOfferEndsWithAGiftThatNeedsNone) {
  Pair();
  ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.iva, {loan_})}), "counted");
  const facts::DueAcceptance acceptance = Acceptance();
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Moult{.animal = female_, .day = On("2026-05-02")}}),
            "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.mira)}), "counted");
  EXPECT_FALSE(world_.animal(female_).offer.has_value());
  EXPECT_EQ(world_.Say(world_.iva, {acceptance}), "superseded OFFER_REPLACED");
  EXPECT_EQ(world_.animal(female_).owner, world_.mira.id);
}

TEST_F(Dues, AMatedFemaleChangesHandsWhenTheReceiverSignsForThem) {
  Pair();
  ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.iva, {loan_})}), "counted");
  EXPECT_EQ(world_.animal(female_).owner, world_.tomas.id) << "an offer";
  facts::DueAcceptance acceptance = Acceptance();
  EXPECT_EQ(world_.Say(world_.mira, {acceptance}), "void NOT_RECEIVER");
  acceptance.agreement_digests = {Hash{}};
  EXPECT_EQ(world_.Say(world_.iva, {acceptance}), "refused DIGEST_OTHER");
  EXPECT_EQ(world_.Say(world_.iva, {Acceptance()}), "counted");
  EXPECT_EQ(world_.animal(female_).owner, world_.iva.id);
  EXPECT_EQ(world_.animal(female_).holder, world_.iva.id);
  ASSERT_EQ(world_.animal(female_).dues.size(), 1U);
  EXPECT_EQ(world_.animal(female_).dues[0].party, world_.tomas.id);
  EXPECT_EQ(world_.animal(female_).dues[0].keeper, world_.iva.id);
}

TEST_F(Dues, TheSacOfTheNewOwnerIsSharedByTheOldAgreement) {
  GiveToIva();
  const ClutchId clutch = world_.Lay(world_.iva, female_, loan_);
  EXPECT_EQ(ShareEqually(clutch), "counted");
}

TEST_F(Dues, WhoTookAFemaleOverIsBoundByNoAmendmentThatItDidNotSign) {
  GiveToIva();
  const Hash first = world_.loan(loan_).agreement_digest;
  Amend([](facts::Terms&) {}, {&world_.tomas});
  ASSERT_EQ(LayAfterwards(), "counted");
  EXPECT_EQ(world_.clutch(clutch_).agreement, first);
  EXPECT_EQ(ShareEqually(clutch_), "counted");
}

TEST_F(Dues, AnAmendmentThatWhoTookAFemaleOverHasSignedBindsIt) {
  GiveToIva();
  Amend([&](facts::Terms& terms) { terms.parties.push_back({.keeper = world_.iva.id}); },
        {&world_.tomas, &world_.iva});
  ASSERT_EQ(LayAfterwards(), "counted");
  EXPECT_EQ(world_.clutch(clutch_).agreement, world_.loan(loan_).agreement_digest);
}

// The giver, who still has her, enters a sac of a day before the version that iva has signed.
TEST_F(Dues, WhoTookAFemaleOverIsNotBoundByWhatWasInForceBefore) {
  Pair();
  Amend([](facts::Terms&) {}, {&world_.tomas});
  facts::Gift gift = Gift(world_.iva, {loan_});
  gift.holder_token = {};
  ASSERT_EQ(world_.Say(world_.tomas, {gift}), "counted");
  ASSERT_EQ(world_.Say(world_.iva, {Acceptance()}), "counted");
  ASSERT_EQ(world_.animal(female_).holder, world_.tomas.id);
  const ClutchId clutch = world_.Lay(world_.tomas, female_, loan_);
  EXPECT_EQ(world_.clutch(clutch).agreement, world_.loan(loan_).agreement_digest);
}

TEST_F(Dues, GoOnUnderTheVersionThatTheGiverHasSigned) {
  GiveToIva();
  const Hash first = world_.loan(loan_).agreement_digest;
  Amend([](facts::Terms&) {}, {&world_.tomas});
  ASSERT_EQ(world_.Say(world_.iva, {Gift(world_.mira, {loan_})}), "counted");
  facts::DueAcceptance acceptance = Acceptance();
  EXPECT_EQ(world_.Say(world_.mira, {acceptance}), "refused DIGEST_OTHER");
  acceptance.agreement_digests = {first};
  ASSERT_EQ(world_.Say(world_.mira, {acceptance}), "counted");
  EXPECT_EQ(VersionOfDue(world_.animal(female_), world_.loan(loan_)), first);
}

// She came back after her moult, without a due; tomas is the party again.
TEST_F(Dues, ThatEndedLeaveNobodyInThePlaceOfAParty) {
  GiveToIva();
  ASSERT_EQ(world_.Say(world_.iva, {facts::Moult{.animal = female_, .day = On("2026-05-02")}}),
            "counted");
  ASSERT_EQ(world_.Say(world_.iva, {Gift(world_.tomas)}), "counted");
  const ClutchId clutch = world_.Lay(world_.tomas, female_, loan_);
  EXPECT_EQ(world_.clutch(clutch).parties[1].receiver, world_.tomas.id);
}

TEST_F(Dues, OfASacAreAcceptedUnderTheVersionThatSharesIt) {
  const ClutchId clutch = world_.Lay(world_.tomas, female_, loan_);
  Amend([](facts::Terms&) {}, {&world_.tomas});
  ASSERT_EQ(world_.Say(world_.tomas, {facts::SacGift{.clutch = clutch,
                                                     .receiver = world_.iva.id,
                                                     .due_loan = loan_,
                                                     .day = On("2026-05-03")}}),
            "counted");
  facts::DueAcceptance acceptance{.clutch = clutch,
                                  .offer = world_.clutch(clutch).offer->token,
                                  .agreement_digests = {world_.loan(loan_).agreement_digest}};
  EXPECT_EQ(world_.Say(world_.iva, {acceptance}), "refused DIGEST_OTHER");
  acceptance.agreement_digests = {world_.clutch(clutch).agreement};
  EXPECT_EQ(world_.Say(world_.iva, {acceptance}), "counted");
}

TEST_F(Dues, GoOnToTheNextKeeperAndTheNext) {
  GiveToIva();
  EXPECT_EQ(world_.Say(world_.iva, {Gift(world_.mira)}), "refused DUE_UNDISCLOSED");
  ASSERT_EQ(world_.Say(world_.iva, {Gift(world_.mira, {loan_})}), "counted");
  ASSERT_EQ(world_.Say(world_.mira, {Acceptance()}), "counted");
  ASSERT_EQ(world_.animal(female_).dues.size(), 1U);
  EXPECT_EQ(world_.animal(female_).dues[0].party, world_.tomas.id);
  EXPECT_EQ(world_.animal(female_).dues[0].keeper, world_.mira.id);
}

TEST_F(Dues, TheLaterOfTwoOffersStands) {
  Pair();
  ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.iva, {loan_})}), "counted");
  const facts::DueAcceptance early = Acceptance();
  ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.mira, {loan_})}), "counted");
  const std::uint64_t later = world_.arrival();
  EXPECT_EQ(world_.Say(world_.iva, {early}),
            "superseded OFFER_REPLACED by " + std::to_string(later));
  EXPECT_EQ(world_.Say(world_.mira, {Acceptance()}), "counted");
}

TEST_F(Dues, ThatCameUpMeanwhileWereNotDisclosed) {
  Pair();
  const AnimalId other = world_.Enter(world_.mira, "n", facts::Sex::kMale);
  const LoanId second = world_.Lend(world_.mira, world_.tomas, other);
  ASSERT_EQ(world_.Say(world_.tomas, {Gift(world_.iva, {loan_})}), "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Pairing{.pairing = world_.NewId<PairingId>(),
                                                     .male = other,
                                                     .female = female_,
                                                     .day = On("2026-04-12"),
                                                     .loan = second}}),
            "counted");
  EXPECT_EQ(world_.Say(world_.iva, {Acceptance()}), "refused DUE_UNDISCLOSED");
}

TEST_F(Dues, RunWithASac) {
  const ClutchId clutch = world_.Lay(world_.tomas, female_, loan_);
  facts::SacGift gift{.clutch = clutch, .receiver = world_.iva.id, .day = On("2026-05-03")};
  EXPECT_EQ(world_.Say(world_.bela, {gift}), "void NOT_OWNER");
  EXPECT_EQ(world_.Say(world_.tomas, {gift}), "refused DUE_UNDISCLOSED");
  gift.due_loan = loan_;
  ASSERT_EQ(world_.Say(world_.tomas, {gift}), "counted");
  EXPECT_EQ(world_.clutch(clutch).owner, world_.tomas.id) << "an offer";
  ASSERT_EQ(world_.Say(
                world_.iva,
                {facts::DueAcceptance{.clutch = clutch,
                                      .offer = world_.clutch(clutch).offer->token,
                                      .agreement_digests = {world_.loan(loan_).agreement_digest}}}),
            "counted");
  const Clutch given = world_.clutch(clutch);
  EXPECT_EQ(given.owner, world_.iva.id);
  EXPECT_EQ(given.holder, world_.iva.id);
  EXPECT_EQ(given.parties[1].receiver, world_.iva.id);
}

TEST_F(Dues, ALostOrSharedClutchIsNotGivenOn) {
  facts::SacGift gift{.clutch = world_.Lay(world_.tomas, female_),
                      .receiver = world_.iva.id,
                      .day = On("2026-05-06")};
  world_.Say(world_.tomas, {facts::SacLoss{.clutch = gift.clutch, .day = On("2026-05-05")}});
  EXPECT_EQ(world_.Say(world_.tomas, {gift}), "refused SAC_LOST");
  gift.clutch = world_.Lay(world_.tomas, female_);
  world_.Count(world_.tomas, gift.clutch, 3);
  world_.ShareOut(world_.tomas, gift.clutch);
  const std::string beaten = "superseded ALREADY_SHARED by " + std::to_string(world_.arrival());
  EXPECT_EQ(world_.Say(world_.tomas, {gift}), beaten);
}

}  // namespace
}  // namespace broodpact::registry
