// Goal: an agreement binds when all have signed the same digest, one animal at a time.
// Method: a cooperative in memory, and signatures that cross.

#include "fmt/core.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::UnorderedElementsAre;

class Loans : public testing::Test {
 protected:
  Loans() : male_(world_.Enter(world_.mira, "m1", facts::Sex::kMale)) {}

  std::string Refuse(const Member& by, const LoanId& loan) {
    return world_.Say(by, {facts::LoanRefusal{.loan = loan, .reason = "no room"}});
  }
  std::string Close(const Member& by, const LoanId& loan) {
    return world_.Say(
        by, {facts::LoanClosure{.loan = loan, .day = On("2026-05-31"), .reason = "done"}});
  }
  LoanState StateOf(const LoanId& loan) { return world_.loan(loan).state; }

  World world_;
  AnimalId male_;
};

TEST_F(Loans, IsOfferedByTheLenderAndAskedForByTheBorrower) {
  const LoanId offer =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  const LoanId request =
      world_.Propose(world_.bela, world_.AgreementOf(world_.mira, world_.bela, male_));
  EXPECT_EQ(StateOf(offer), LoanState::kOffered);
  EXPECT_EQ(StateOf(request), LoanState::kAskedFor);
  EXPECT_EQ(world_.loan(request).signatures.front().keeper, world_.bela.id);
  EXPECT_TRUE(world_.animal(male_).loan.empty()) << "promises nothing yet";
  EXPECT_EQ(world_.state().cooperative()->loans, 2U);
}

TEST_F(Loans, IsInForceWithTheLastSignature) {
  facts::Agreement agreement = world_.AgreementOf(world_.mira, world_.tomas, male_);
  agreement.terms.parties.push_back({.keeper = world_.bela.id});
  const LoanId loan = world_.Propose(world_.mira, agreement);
  EXPECT_EQ(world_.Sign(world_.bela, loan), "counted");
  EXPECT_EQ(StateOf(loan), LoanState::kOffered);
  EXPECT_EQ(world_.Sign(world_.tomas, loan), "counted");
  EXPECT_EQ(StateOf(loan), LoanState::kInForce);
  EXPECT_EQ(world_.loan(loan).in_force_arrival, world_.arrival());
  EXPECT_EQ(world_.loan(loan).signatures.size(), 3U);
  EXPECT_EQ(world_.animal(male_).loan, loan);
}

TEST_F(Loans, SigningTwiceHasNoEffect) {
  const LoanId loan =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  const std::vector<Loan> before = world_.Flush().All<Loan>();
  EXPECT_EQ(world_.Sign(world_.mira, loan), "counted");
  EXPECT_EQ(world_.Flush().All<Loan>(), before);
}

TEST_F(Loans, RefusesASignatureUnderAnotherDigest) {
  const LoanId loan =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  EXPECT_EQ(world_.Say(world_.tomas,
                       {facts::LoanSignature{.loan = loan, .agreement_digest = Sha256("other")}}),
            "refused DIGEST_OTHER");
  EXPECT_EQ(StateOf(loan), LoanState::kOffered);
}

TEST_F(Loans, ANonPartyNeitherProposesSignsRefusesNorCloses) {
  const facts::Agreement agreement = world_.AgreementOf(world_.mira, world_.tomas, male_);
  EXPECT_EQ(world_.Say(world_.bela, {world_.ProposalOf(agreement)}), "void NOT_PARTY");
  const LoanId loan = world_.Propose(world_.mira, agreement);
  EXPECT_EQ(world_.Sign(world_.bela, loan), "void NOT_PARTY");
  EXPECT_EQ(Refuse(world_.bela, loan), "void NOT_PARTY");
  EXPECT_EQ(Close(world_.bela, loan), "void NOT_PARTY");
  EXPECT_EQ(StateOf(loan), LoanState::kOffered);
}

TEST_F(Loans, RefusesAProposalThatCannotBe) {
  const auto refused = [&](auto change) {
    facts::Agreement agreement = world_.AgreementOf(world_.mira, world_.tomas, male_);
    change(agreement);
    return world_.Say(world_.tomas, {world_.ProposalOf(agreement)});
  };
  EXPECT_EQ(refused([](facts::Agreement& a) { a.cooperative = Sha256("another"); }),
            "refused COOPERATIVE_OTHER");
  EXPECT_EQ(refused([](facts::Agreement& a) { a.animal = Numbered<AnimalId>(99); }),
            "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(refused([&](facts::Agreement& a) { a.lender = world_.bela.id; }), "refused NOT_OWNER");
  EXPECT_EQ(refused([](facts::Agreement& a) {
              a.terms.parties.push_back({.keeper = Numbered<KeeperId>(99)});
            }),
            "refused UNKNOWN_PARTY");
  const LoanId taken = world_.Lend(world_.mira, world_.tomas, male_);
  EXPECT_EQ(refused([&](facts::Agreement& a) { a.loan = taken; }), "refused ID_TAKEN");
  ASSERT_EQ(world_.Say(world_.mira, {facts::Death{.animal = male_, .day = On("2026-05-01")}}),
            "counted");
  EXPECT_EQ(refused([](facts::Agreement&) {}), "refused ALREADY_DEAD");
}

TEST_F(Loans, OfTwoLoansOfOneAnimalTheFirstInForceStands) {
  const LoanId first =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  const LoanId second =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.bela, male_));
  ASSERT_EQ(world_.Sign(world_.tomas, first), "counted");
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(world_.Sign(world_.bela, second),
            fmt::format("superseded ANIMAL_PROMISED by {}", winner));
  EXPECT_EQ(StateOf(second), LoanState::kSuperseded);
  EXPECT_EQ(world_.loan(second).signatures.size(), 2U) << "what bela signed is kept";
  EXPECT_EQ(world_.loan(second).ended.arrival, world_.arrival());
  EXPECT_EQ(world_.animal(male_).loan, first);
  const std::vector<Clash> clashes = world_.clashes();
  ASSERT_EQ(clashes.size(), 1U);
  EXPECT_EQ(clashes[0].reason, "ANIMAL_PROMISED");
  EXPECT_THAT(clashes[0].parties,
              UnorderedElementsAre(world_.mira.id, world_.tomas.id, world_.bela.id));
}

TEST_F(Loans, ALostLoanChangesNothingElseOfItsCommit) {
  const AnimalId own = world_.Enter(world_.bela, "b1");
  const LoanId first =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  const facts::Agreement agreement = world_.AgreementOf(world_.mira, world_.bela, male_);
  const LoanId second = world_.Propose(world_.mira, agreement);
  ASSERT_EQ(world_.Sign(world_.tomas, first), "counted");
  world_.Say(world_.bela,
             {facts::Moult{.animal = own, .day = On("2026-05-01")},
              facts::LoanSignature{.loan = second,
                                   .agreement_digest = world_.loan(second).agreement_digest}});
  EXPECT_EQ(world_.verdict().reason, "ANIMAL_PROMISED");
  EXPECT_TRUE(world_.animal(own).moults.empty());
}

TEST_F(Loans, WhoSignedALostLoanDoesNotSignItAgain) {
  const LoanId lost =
      world_.Propose(world_.tomas, world_.AgreementOf(world_.mira, world_.tomas, male_));
  world_.Lend(world_.mira, world_.bela, male_);
  world_.Sign(world_.mira, lost);
  ASSERT_EQ(StateOf(lost), LoanState::kSuperseded);
  const std::uint64_t ended = world_.loan(lost).ended.arrival;
  EXPECT_EQ(world_.Sign(world_.tomas, lost), fmt::format("superseded LOAN_STATE by {}", ended));
}

TEST_F(Loans, ALoanIsNotLostToOneThatWentWithTheSameCommit) {
  const LoanId first =
      world_.Propose(world_.tomas, world_.AgreementOf(world_.mira, world_.tomas, male_));
  const LoanId second =
      world_.Propose(world_.bela, world_.AgreementOf(world_.mira, world_.bela, male_));
  const auto signature = [&](const LoanId& loan) {
    return facts::LoanSignature{.loan = loan,
                                .agreement_digest = world_.loan(loan).agreement_digest};
  };
  const MapSource before = world_.Flush();
  world_.Say(world_.mira, {signature(first), signature(second)});
  EXPECT_EQ(world_.verdict().reason, "ANIMAL_PROMISED");
  EXPECT_EQ(world_.Flush(), before) << "neither is in force, and neither is lost";
}

TEST_F(Loans, RefusesTheLastSignatureWhenTheAnimalIsGone) {
  const LoanId given =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  ASSERT_EQ(world_.Say(world_.mira, {facts::Gift{.animal = male_,
                                                 .receiver = world_.iva.id,
                                                 .owner_token = world_.animal(male_).owner_token}}),
            "counted");
  EXPECT_EQ(world_.Sign(world_.tomas, given), "refused NOT_OWNER");
  EXPECT_EQ(StateOf(given), LoanState::kOffered);

  const LoanId dead =
      world_.Propose(world_.iva, world_.AgreementOf(world_.iva, world_.tomas, male_));
  ASSERT_EQ(world_.Say(world_.iva, {facts::Death{.animal = male_, .day = On("2026-05-01")}}),
            "counted");
  EXPECT_EQ(world_.Sign(world_.tomas, dead), "refused ALREADY_DEAD");
}

TEST_F(Loans, IsDeclinedByAPartyBeforeAllHaveSigned) {
  const LoanId loan =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  EXPECT_EQ(Refuse(world_.tomas, loan), "counted");
  const std::uint64_t refusal = world_.arrival();
  EXPECT_EQ(StateOf(loan), LoanState::kDeclined);
  EXPECT_EQ(world_.loan(loan).reason, "no room");
  EXPECT_EQ(world_.Sign(world_.tomas, loan), fmt::format("superseded LOAN_STATE by {}", refusal));
  EXPECT_EQ(Refuse(world_.mira, loan), fmt::format("superseded LOAN_STATE by {}", refusal));
}

TEST_F(Loans, ARefusalComesTooLateOnceInForce) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  const std::uint64_t in_force = world_.arrival();
  EXPECT_EQ(Refuse(world_.mira, loan), fmt::format("superseded LOAN_STATE by {}", in_force));
  EXPECT_EQ(StateOf(loan), LoanState::kInForce);
}

TEST_F(Loans, ClosesWhenTheAnimalIsBackOrDead) {
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, male_);
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Receipt{.loan = loan, .day = On("2026-05-10")}}),
            "counted");
  EXPECT_EQ(Close(world_.mira, loan), "refused ANIMAL_AWAY");
  ASSERT_EQ(world_.Say(world_.mira, {facts::Receipt{.loan = loan, .day = On("2026-05-30")}}),
            "counted");
  EXPECT_EQ(Close(world_.tomas, loan), "counted");
  const std::uint64_t closure = world_.arrival();
  EXPECT_EQ(StateOf(loan), LoanState::kClosed);
  EXPECT_TRUE(world_.animal(male_).loan.empty());
  EXPECT_EQ(Close(world_.mira, loan), fmt::format("superseded LOAN_STATE by {}", closure));

  const LoanId next = world_.Lend(world_.mira, world_.tomas, male_);
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Receipt{.loan = next, .day = On("2026-05-30")},
                                      facts::Death{.animal = male_, .day = On("2026-05-30")}}),
            "counted");
  EXPECT_EQ(Close(world_.tomas, next), "counted");
}

TEST_F(Loans, RefusesToCloseWhatIsNotInForce) {
  const LoanId loan =
      world_.Propose(world_.mira, world_.AgreementOf(world_.mira, world_.tomas, male_));
  EXPECT_EQ(Close(world_.mira, loan), "refused LOAN_STATE");
  EXPECT_EQ(Close(world_.mira, Numbered<LoanId>(99)), "refused UNKNOWN_SUBJECT");
}

TEST_F(Loans, ClosingFreesTheAnimalForTheNextLoan) {
  const LoanId first = world_.Lend(world_.mira, world_.tomas, male_);
  ASSERT_EQ(Close(world_.mira, first), "counted");
  const LoanId second = world_.Lend(world_.mira, world_.bela, male_);
  EXPECT_EQ(world_.animal(male_).loan, second);
}

}  // namespace
}  // namespace broodpact::registry
