// Goal: terms change only when all whom they bind have signed the change, and a clutch is shared
// out by the version that was in force when it was laid. Method: a cooperative in memory, and
// amendments that cross.

#include "client/registry/internal/amendment.h"

#include "fmt/core.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "client/registry/version.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::UnorderedElementsAre;

class Amendments : public testing::Test {
 protected:
  Amendments()
      : male_(world_.Enter(world_.mira, "m1", facts::Sex::kMale)),
        female_(world_.Enter(world_.tomas, "f1", facts::Sex::kFemale)),
        loan_(world_.Lend(world_.mira, world_.tomas, male_)),
        first_(world_.loan(loan_).agreement_digest) {}

  // Another version of the agreement in force: mira gets 1, tomas `weight` parts.
  facts::Agreement Amended(std::uint32_t weight) {
    facts::Agreement agreement = world_.AgreementOf(world_.mira, world_.tomas, male_, weight);
    agreement.loan = loan_;
    agreement.replaces = world_.loan(loan_).agreement_digest;
    return agreement;
  }
  static facts::LoanAmendment AmendmentOf(const facts::Agreement& agreement) {
    facts::LoanAmendment amendment;
    amendment.agreement = facts::BuildAgreement(agreement);
    amendment.agreement_digest = Sha256(amendment.agreement);
    amendment.parsed = agreement;
    return amendment;
  }
  std::string Amend(const Member& by, const facts::LoanAmendment& amendment) {
    return world_.Say(by, {amendment});
  }
  std::string Sign(const Member& by, const facts::LoanAmendment& amendment) {
    return world_.Say(
        by, {facts::LoanSignature{.loan = loan_, .agreement_digest = amendment.agreement_digest}});
  }
  std::string Refuse(const Member& by, const facts::LoanAmendment& amendment) {
    return world_.Say(by, {facts::LoanRefusal{.loan = loan_,
                                              .reason = "too much",
                                              .agreement_digest = amendment.agreement_digest}});
  }
  // As Sign, again after a loss, so many days after the signature had first arrived.
  std::string SignAgain(const Member& by, const facts::LoanAmendment& amendment, int days) {
    const std::vector<facts::Statement> signing = {
        facts::LoanSignature{.loan = loan_, .agreement_digest = amendment.agreement_digest}};
    return world_.SayAs(by, signing, [days](facts::Arrived& arrived) {
      arrived.first_time_ms = arrived.time_ms - std::int64_t{86'400'000} * days;
    });
  }
  Hash InForce() { return world_.loan(loan_).agreement_digest; }
  VersionState StateOf(const facts::LoanAmendment& amendment) {
    for (const LoanVersion& version : world_.loan(loan_).versions) {
      if (version.digest == amendment.agreement_digest) return version.state;
    }
    ADD_FAILURE() << "no such version";
    return {};
  }

  World world_;
  AnimalId male_;
  AnimalId female_;
  LoanId loan_;
  Hash first_;
};

TEST_F(Amendments, AVersionHoldsUntilAllHaveSignedTheNext) {
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  EXPECT_EQ(Amend(world_.mira, amendment), "counted");
  EXPECT_EQ(InForce(), first_);
  EXPECT_EQ(StateOf(amendment), VersionState::kOpen);
  EXPECT_EQ(Sign(world_.tomas, amendment), "counted");
  const Loan loan = world_.loan(loan_);
  EXPECT_EQ(loan.agreement_digest, amendment.agreement_digest);
  EXPECT_EQ(loan.in_force_arrival, world_.arrival());
  EXPECT_EQ(loan.state, LoanState::kInForce);
  ASSERT_EQ(loan.versions.size(), 1U);
  EXPECT_EQ(loan.versions[0].digest, first_);
  EXPECT_EQ(loan.versions[0].state, VersionState::kReplaced);
  EXPECT_EQ(loan.versions[0].signatures.size(), 2U) << "who signed what stays provable";
}

TEST_F(Amendments, TheReturnDayIsThatOfTheVersionInForce) {
  facts::Agreement later = Amended(1);
  later.return_day = Day{20'700};
  const facts::LoanAmendment amendment = AmendmentOf(later);
  ASSERT_EQ(Amend(world_.tomas, amendment), "counted");
  EXPECT_EQ(world_.loan(loan_).return_day, std::nullopt);
  ASSERT_EQ(Sign(world_.mira, amendment), "counted");
  EXPECT_EQ(world_.loan(loan_).return_day, Day{20'700});
}

TEST_F(Amendments, OnlyAPartyAmendsSignsOrRefuses) {
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  EXPECT_EQ(Amend(world_.bela, amendment), "void NOT_PARTY");
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  EXPECT_EQ(Sign(world_.bela, amendment), "void NOT_PARTY");
  EXPECT_EQ(Refuse(world_.bela, amendment), "void NOT_PARTY");
  EXPECT_EQ(StateOf(amendment), VersionState::kOpen);
}

TEST_F(Amendments, WhomAVersionAddsOrLeavesOutSignsToo) {
  facts::Agreement with_bela = Amended(1);
  with_bela.terms.parties.push_back({.keeper = world_.bela.id});
  const facts::LoanAmendment adding = AmendmentOf(with_bela);
  ASSERT_EQ(Amend(world_.mira, adding), "counted");
  ASSERT_EQ(Sign(world_.tomas, adding), "counted");
  EXPECT_EQ(InForce(), first_) << "bela has not signed";
  ASSERT_EQ(Sign(world_.bela, adding), "counted");
  ASSERT_EQ(InForce(), adding.agreement_digest);

  const facts::LoanAmendment dropping = AmendmentOf(Amended(1));
  ASSERT_EQ(Amend(world_.mira, dropping), "counted");
  ASSERT_EQ(Sign(world_.tomas, dropping), "counted");
  EXPECT_EQ(InForce(), adding.agreement_digest) << "bela has not agreed to lose her share";
  ASSERT_EQ(Sign(world_.bela, dropping), "counted");
  EXPECT_EQ(InForce(), dropping.agreement_digest);
}

TEST_F(Amendments, OfTwoAtOnceTheFirstThatAllSignedStandsAndTheOtherIsAClash) {
  const facts::LoanAmendment one = AmendmentOf(Amended(3));
  const facts::LoanAmendment other = AmendmentOf(Amended(4));
  ASSERT_EQ(Amend(world_.mira, one), "counted");
  ASSERT_EQ(Amend(world_.tomas, other), "counted");
  ASSERT_EQ(Sign(world_.tomas, one), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(StateOf(other), VersionState::kSuperseded);
  EXPECT_EQ(Sign(world_.mira, other), fmt::format("superseded VERSION_REPLACED by {}", winner));
  EXPECT_EQ(InForce(), one.agreement_digest);
  const std::vector<Clash> clashes = world_.clashes();
  ASSERT_EQ(clashes.size(), 1U);
  EXPECT_EQ(clashes[0].reason, "VERSION_REPLACED");
  EXPECT_THAT(clashes[0].parties, UnorderedElementsAre(world_.mira.id, world_.tomas.id));
}

TEST_F(Amendments, OfTwoAtOnceTheOtherIsSupersededWhoeverItsPartiesAre) {
  facts::Agreement with_bela = Amended(1);
  with_bela.terms.parties.push_back({.keeper = world_.bela.id});
  const facts::LoanAmendment adding = AmendmentOf(with_bela);
  const facts::LoanAmendment one = AmendmentOf(Amended(3));
  ASSERT_EQ(Amend(world_.mira, adding), "counted");
  ASSERT_EQ(Amend(world_.tomas, one), "counted");
  ASSERT_EQ(Sign(world_.mira, one), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(StateOf(adding), VersionState::kSuperseded);
  EXPECT_EQ(Sign(world_.tomas, adding), fmt::format("superseded VERSION_REPLACED by {}", winner));
  EXPECT_EQ(InForce(), one.agreement_digest);
}

TEST_F(Amendments, WhatAmendsAReplacedVersionIsSuperseded) {
  const facts::LoanAmendment late = AmendmentOf(Amended(5));
  const facts::LoanAmendment one = AmendmentOf(Amended(3));
  ASSERT_EQ(Amend(world_.mira, one), "counted");
  ASSERT_EQ(Sign(world_.tomas, one), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(Amend(world_.tomas, late), fmt::format("superseded VERSION_REPLACED by {}", winner));
}

TEST_F(Amendments, APartyDeclinesOrTakesBackWhatIsNotInForce) {
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  EXPECT_EQ(Refuse(world_.tomas, amendment), "counted");
  const std::uint64_t refusal = world_.arrival();
  EXPECT_EQ(StateOf(amendment), VersionState::kDeclined);
  EXPECT_EQ(world_.loan(loan_).state, LoanState::kInForce) << "the loan goes on as it was";
  EXPECT_EQ(Sign(world_.tomas, amendment),
            fmt::format("superseded VERSION_REPLACED by {}", refusal));
  EXPECT_EQ(Amend(world_.mira, amendment), "counted") << "and may be proposed again";
  EXPECT_EQ(Sign(world_.tomas, amendment), "counted");
  EXPECT_EQ(InForce(), amendment.agreement_digest);
}

TEST_F(Amendments, WhatWasDeclinedAndIsProposedAgainIsSignedByAllAnew) {
  facts::Agreement with_bela = Amended(1);
  with_bela.terms.parties.push_back({.keeper = world_.bela.id});
  const facts::LoanAmendment adding = AmendmentOf(with_bela);
  ASSERT_EQ(Amend(world_.mira, adding), "counted");
  ASSERT_EQ(Refuse(world_.bela, adding), "counted");
  ASSERT_EQ(Amend(world_.tomas, adding), "counted");
  ASSERT_EQ(Sign(world_.bela, adding), "counted");
  EXPECT_EQ(InForce(), first_) << "mira has signed what was declined, and not what came after";
  ASSERT_EQ(Sign(world_.mira, adding), "counted");
  EXPECT_EQ(InForce(), adding.agreement_digest);
}

TEST_F(Amendments, ASecondDeviceOfAPartySignsForItOnce) {
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  EXPECT_EQ(Sign(world_.mira, amendment), "counted");
  EXPECT_EQ(InForce(), first_) << "mira twice is not mira and tomas";
  ASSERT_EQ(Amend(world_.tomas, amendment), "counted") << "proposing the same is signing it";
  EXPECT_EQ(InForce(), amendment.agreement_digest);
}

TEST_F(Amendments, RefusesAnAmendmentThatCannotBe) {
  const auto amend = [&](auto change) {
    facts::Agreement agreement = Amended(3);
    change(agreement);
    return Amend(world_.mira, AmendmentOf(agreement));
  };
  EXPECT_EQ(amend([&](facts::Agreement& a) { a.animal = female_; }), "refused AMENDMENT_OTHER");
  EXPECT_EQ(amend([&](facts::Agreement& a) { a.replaces = Sha256("none"); }),
            "refused DIGEST_OTHER");
  EXPECT_EQ(amend([](facts::Agreement& a) { a.loan = Numbered<LoanId>(9); }),
            "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(amend([](facts::Agreement& a) {
              a.terms.parties.push_back({.keeper = Numbered<KeeperId>(9)});
            }),
            "refused UNKNOWN_PARTY");
  EXPECT_EQ(amend([](facts::Agreement& a) { a.clutches = {Numbered<ClutchId>(9)}; }),
            "refused UNKNOWN_SUBJECT");
  const ClutchId stray = world_.Lay(world_.tomas, female_);
  EXPECT_EQ(amend([&](facts::Agreement& a) { a.clutches = {stray}; }), "refused CLUTCH_OTHER");
  EXPECT_THAT(world_.loan(loan_).versions, IsEmpty());
}

TEST_F(Amendments, AnOfferThatNobodyAcceptedWasNeverInForceAndIsNotAmended) {
  const AnimalId another = world_.Enter(world_.mira, "m2", facts::Sex::kMale);
  loan_ = world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, another));
  facts::Agreement agreement = Amended(3);
  agreement.animal = another;
  EXPECT_EQ(Amend(world_.mira, AmendmentOf(agreement)), "refused LOAN_STATE");
}

TEST_F(Amendments, ALoanKeepsSoManyVersionsAndNoMore) {
  for (std::uint32_t i = 0; i < kVersionsMax; ++i) {
    const facts::LoanAmendment next = AmendmentOf(Amended(10 + i));
    ASSERT_EQ(Amend(world_.mira, next), "counted");
    ASSERT_EQ(Sign(world_.tomas, next), "counted");
  }
  EXPECT_EQ(Amend(world_.mira, AmendmentOf(Amended(99))), "refused TOO_MANY_RECORDS");
}

TEST_F(Amendments, OneKeeperProposesSoManyAndLeavesRoomForOthers) {
  for (std::uint32_t i = 0; i < kAmendmentsOfOneMax; ++i) {
    ASSERT_EQ(Amend(world_.mira, AmendmentOf(Amended(10 + i))), "counted");
  }
  EXPECT_EQ(Amend(world_.mira, AmendmentOf(Amended(99))), "refused TOO_MANY_RECORDS");
  EXPECT_EQ(Amend(world_.tomas, AmendmentOf(Amended(99))), "counted");
}

TEST_F(Amendments, AClutchIsSharedOutByTheVersionInForceWhenItWasLaid) {
  // Everything in this world arrives on 2026-06-01.
  const auto lay = [&](std::string_view day) {
    const auto id = world_.NewId<ClutchId>();
    EXPECT_EQ(world_.Say(world_.tomas,
                         {facts::SacLaying{
                             .clutch = id, .female = female_, .day = On(day), .loan = loan_}}),
              "counted");
    return id;
  };
  const ClutchId before = lay("2026-05-20");
  EXPECT_EQ(world_.clutch(before).agreement, first_) << "signed after it was laid: the first";
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  ASSERT_EQ(Sign(world_.tomas, amendment), "counted");
  EXPECT_EQ(world_.clutch(before).agreement, first_) << "terms do not change behind a clutch";
  EXPECT_EQ(world_.clutch(lay("2026-05-31")).agreement, first_) << "laid before, entered after";
  EXPECT_EQ(world_.clutch(lay("2026-06-01")).agreement, amendment.agreement_digest);

  const Token count = world_.Count(world_.tomas, before, 8);
  const auto share = [&](std::uint32_t mira, std::uint32_t tomas) {
    return world_.Say(
        world_.mira,
        {facts::SplitRecord{
            .clutch = before,
            .count_token = count,
            .shares = {
                {.keeper = world_.mira.id, .slings = mira, .lot = world_.NewId<LotId>()},
                {.keeper = world_.tomas.id, .slings = tomas, .lot = world_.NewId<LotId>()}}}});
  };
  EXPECT_EQ(share(2, 6), "refused SPLIT_DIFFERS") << "the amendment's 1 : 3";
  EXPECT_EQ(share(4, 4), "counted");
}

TEST_F(Amendments, AnAmendmentCoversAClutchLaidBeforeOnlyIfItNamesIt) {
  const ClutchId named = world_.Lay(world_.tomas, female_, loan_);
  const ClutchId other = world_.Lay(world_.tomas, female_, loan_);
  facts::Agreement agreement = Amended(3);
  agreement.clutches = {named};
  const facts::LoanAmendment amendment = AmendmentOf(agreement);
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  EXPECT_EQ(world_.clutch(named).agreement, first_);
  ASSERT_EQ(Sign(world_.tomas, amendment), "counted");
  EXPECT_EQ(world_.clutch(named).agreement, amendment.agreement_digest);
  EXPECT_EQ(world_.clutch(other).agreement, first_);
}

TEST_F(Amendments, AClutchThatWasSharedOutMeanwhileIsNotSharedAnew) {
  const ClutchId clutch = world_.Lay(world_.tomas, female_, loan_);
  facts::Agreement agreement = Amended(3);
  agreement.clutches = {clutch};
  const facts::LoanAmendment amendment = AmendmentOf(agreement);
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  const Token count = world_.Count(world_.tomas, clutch, 2);
  ASSERT_EQ(
      world_.Say(
          world_.tomas,
          {facts::SplitRecord{
              .clutch = clutch,
              .count_token = count,
              .shares = {{.keeper = world_.mira.id, .slings = 1, .lot = world_.NewId<LotId>()},
                         {.keeper = world_.tomas.id, .slings = 1, .lot = world_.NewId<LotId>()}}}}),
      "counted");
  const std::uint64_t split = world_.arrival();
  EXPECT_EQ(Sign(world_.tomas, amendment), fmt::format("superseded ALREADY_SHARED by {}", split));
  EXPECT_EQ(InForce(), first_);
  EXPECT_EQ(StateOf(amendment), VersionState::kOpen);
}

TEST_F(Amendments, AClosedLoanStillAmendsHowItsClutchesAreShared) {
  const ClutchId clutch = world_.Lay(world_.tomas, female_, loan_);
  ASSERT_EQ(world_.Say(world_.mira, {facts::LoanClosure{.loan = loan_, .day = On("2026-05-31")}}),
            "counted");
  facts::Agreement agreement = Amended(3);
  agreement.clutches = {clutch};
  const facts::LoanAmendment amendment = AmendmentOf(agreement);
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  ASSERT_EQ(Sign(world_.tomas, amendment), "counted");
  EXPECT_EQ(world_.clutch(clutch).agreement, amendment.agreement_digest);
  EXPECT_EQ(world_.loan(loan_).state, LoanState::kClosed);
}

TEST_F(Amendments, WhatWasSignedInTimeIsSoWhenItArrivesAgain) {
  facts::LoanAmendment open = AmendmentOf(Amended(3));
  open.open_until = On("2026-05-31").latest;
  ASSERT_EQ(Amend(world_.mira, open), "counted");
  EXPECT_EQ(SignAgain(world_.tomas, open, 1), "counted");
  EXPECT_EQ(InForce(), open.agreement_digest);
  EXPECT_EQ(world_.loan(loan_).in_force_arrival, world_.arrival()) << "order is that of the log";
}

TEST_F(Amendments, AreInForceFromTheDayOnWhichTheLastSignatureFirstArrived) {
  const Loan loan = world_.loan(loan_);
  const auto dawn = [](std::string_view day) {
    return std::int64_t{86'400'000} * On(day).earliest.number;
  };
  EXPECT_EQ(LastSigned({{.keeper = loan.lender, .entry = {.time_ms = dawn("2026-06-20")}},
                        {.keeper = loan.borrower, .entry = {.time_ms = dawn("2026-06-05")}}}),
            dawn("2026-06-20"));
  // Proposed on the first of June; signed days before, in a log that was lost.
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  ASSERT_EQ(SignAgain(world_.tomas, amendment, 20), "counted");
  EXPECT_EQ(ToText(DayOfMillis(world_.loan(loan_).in_force_time_ms)), "2026-06-01");
}

TEST_F(Amendments, ThatWereSignedBeforeTheSacAreSoWhenTheyArriveAgain) {
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  const auto days_ago = [](facts::Arrived& arrived) {
    arrived.time_ms += std::int64_t{86'400'000} * 30;
    arrived.first_time_ms = arrived.time_ms - std::int64_t{86'400'000} * 28;
  };
  ASSERT_EQ(world_.SayAs(world_.mira, {amendment}, days_ago), "counted");
  ASSERT_EQ(world_.SayAs(world_.tomas,
                         {facts::LoanSignature{.loan = loan_,
                                               .agreement_digest = amendment.agreement_digest}},
                         days_ago),
            "counted");
  // In force on the third of June by the time of its first arrival.
  EXPECT_EQ(VersionAt(world_.loan(loan_), On("2026-06-02")), first_);
  EXPECT_EQ(VersionAt(world_.loan(loan_), On("2026-06-03")), amendment.agreement_digest);
}

TEST_F(Amendments, WhatIsOpenUntilADayIsNotSignedAfterItByTheLogsClock) {
  facts::LoanAmendment over = AmendmentOf(Amended(3));
  over.open_until = On("2026-05-31").latest;
  ASSERT_EQ(Amend(world_.mira, over), "counted");
  EXPECT_EQ(Sign(world_.tomas, over), "superseded OFFER_EXPIRED");
  facts::LoanAmendment open = AmendmentOf(Amended(4));
  open.open_until = On("2026-06-01").latest;
  ASSERT_EQ(Amend(world_.mira, open), "counted");
  EXPECT_EQ(Sign(world_.tomas, open), "counted");

  const AnimalId another = world_.Enter(world_.mira, "m2", facts::Sex::kMale);
  facts::LoanProposal proposal =
      world_.ProposalOf(world_.AgreementOf(world_.mira, world_.tomas, another));
  proposal.open_until = On("2026-05-31").latest;
  ASSERT_EQ(world_.Say(world_.mira, {proposal}), "counted");
  EXPECT_EQ(world_.Sign(world_.tomas, proposal.parsed.loan), "superseded OFFER_EXPIRED");
}

TEST_F(Amendments, AVersionIsFoundByItsDigestOnlyIfItWasInForce) {
  const facts::LoanAmendment amendment = AmendmentOf(Amended(3));
  ASSERT_EQ(Amend(world_.mira, amendment), "counted");
  EXPECT_FALSE(VersionOf(world_.loan(loan_), amendment.agreement_digest).has_value());
  ASSERT_EQ(Sign(world_.tomas, amendment), "counted");
  const Loan loan = world_.loan(loan_);
  ASSERT_TRUE(VersionOf(loan, first_).has_value());
  ASSERT_TRUE(VersionOf(loan, amendment.agreement_digest).has_value());
  EXPECT_THAT(VersionOf(loan, first_)->parties, ElementsAre(world_.mira.id, world_.tomas.id));
}

}  // namespace
}  // namespace broodpact::registry
