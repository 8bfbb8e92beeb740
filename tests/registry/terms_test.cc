// Goal: terms bind as they are signed: which sacs they cover, who confirms a count, what carries
// over from split to split and whose males divide; and terms under a name change hands openly.
// Method: a male of mira's on loan to tomas, whose female lays sac after sac.

#include <algorithm>

#include <fmt/core.h>
#include <gtest/gtest.h>

#include "client/shares/ratio.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Terms : public ::testing::Test {
 protected:
  // The loan of the male on these terms, in force.
  template <typename Change>
  LoanId Agree(Change change) {
    facts::Agreement agreement = world_.AgreementOf(world_.mira, world_.tomas, male_);
    change(agreement.terms);
    const LoanId loan = world_.Propose(world_.mira, agreement);
    EXPECT_EQ(world_.Sign(world_.tomas, loan), "counted");
    return loan;
  }

  // On one sac, whose place the next one takes if it comes to nothing.
  LoanId AgreeOnOneSac() {
    return Agree([](facts::Terms& terms) {
      terms.coverage.sacs = 1;
      terms.failure.infertile_sac = facts::FailureRule::kNextSac;
    });
  }

  std::string Lay(const LoanId& loan, std::string_view day = "2026-05-01") {
    clutch_ = world_.NewId<ClutchId>();
    return world_.Say(
        world_.tomas,
        {facts::SacLaying{.clutch = clutch_, .female = female_, .day = On(day), .loan = loan}});
  }

  Token Count(std::uint32_t living) { return world_.Count(world_.tomas, clutch_, living); }

  // A split of the last clutch with these slings, in the order of the terms.
  facts::SplitRecord Split(const Token& count, const std::vector<std::uint32_t>& slings,
                           std::uint32_t carried = 0) {
    const std::vector<KeeperId> keepers = {world_.mira.id, world_.tomas.id, world_.bela.id};
    facts::SplitRecord split{.clutch = clutch_, .count_token = count, .carried_slings = carried};
    for (std::size_t i = 0; i < slings.size(); ++i) {
      const bool some = slings[i] > 0;
      split.shares.push_back({.keeper = keepers[i],
                              .slings = slings[i],
                              .lot = some ? world_.NewId<LotId>() : LotId{}});
    }
    return split;
  }

  std::string HatchLate(std::uint32_t slings) {
    return world_.Say(
        world_.tomas,
        {facts::LateHatching{.clutch = clutch_, .slings = slings, .day = On("2026-05-28")}});
  }

  std::string Pair(const Member& author, const AnimalId& male, std::string_view day) {
    return world_.Say(author, {facts::Pairing{.pairing = world_.NewId<PairingId>(),
                                              .male = male,
                                              .female = female_,
                                              .day = On(day)}});
  }

  World world_;
  AnimalId male_ = world_.Enter(world_.mira, "bh-m", facts::Sex::kMale);
  AnimalId female_ = world_.Enter(world_.tomas, "rosa", facts::Sex::kFemale);
  ClutchId clutch_{};
};

TEST_F(Terms, NameKeepersAndFemalesOfTheCooperative) {
  facts::Agreement agreement = world_.AgreementOf(world_.mira, world_.tomas, male_);
  agreement.terms.counting.witness = Numbered<KeeperId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {world_.ProposalOf(agreement)}), "refused UNKNOWN_PARTY");
  agreement.terms.counting.witness = {};
  agreement.terms.coverage.females = {Numbered<AnimalId>(99)};
  EXPECT_EQ(world_.Say(world_.mira, {world_.ProposalOf(agreement)}), "refused UNKNOWN_SUBJECT");
  agreement.terms.coverage.females = {male_};
  EXPECT_EQ(world_.Say(world_.mira, {world_.ProposalOf(agreement)}), "refused SEX_CONTRADICTS");
}

TEST_F(Terms, DoNotCoverASacOfAnotherFemaleAfterTheirEndOrBeyondTheirNumber) {
  const AnimalId other = world_.Enter(world_.tomas, "bea", facts::Sex::kFemale);
  const LoanId loan = Agree([&](facts::Terms& terms) {
    terms.coverage = {.females = {other}, .sacs = 0, .until_day = {}};
  });
  EXPECT_EQ(Lay(loan), "refused NOT_COVERED");
  EXPECT_EQ(Lay({}), "counted") << "without the loan it is recorded all the same";
}

TEST_F(Terms, CoverSacsUntilTheirLastDayAndTheirNumber) {
  const LoanId loan = Agree([](facts::Terms& terms) {
    terms.coverage = {.females = {}, .sacs = 2, .until_day = On("2026-05-10").earliest};
  });
  EXPECT_EQ(Lay(loan, "2026-05-11"), "refused NOT_COVERED");
  EXPECT_EQ(Lay(loan, "2026-05-10/2026-05-20"), "counted") << "it may have been in time";
  EXPECT_EQ(world_.clutch(clutch_).occasion.sac_number, 1U);
  EXPECT_EQ(Lay(loan), "counted");
  EXPECT_EQ(world_.clutch(clutch_).occasion.sac_number, 2U);
  EXPECT_EQ(Lay(loan), "refused NOT_COVERED");
}

TEST_F(Terms, LetTheNextSacTakeThePlaceOfOneThatCameToNothing) {
  const LoanId loan = AgreeOnOneSac();
  ASSERT_EQ(Lay(loan), "counted");
  EXPECT_EQ(Lay(loan), "refused NOT_COVERED");
  clutch_ = world_.animal(female_).clutches.front();
  ASSERT_EQ(world_.Say(world_.tomas, {facts::SacLoss{.clutch = clutch_, .day = On("2026-05-20")}}),
            "counted");
  EXPECT_EQ(Lay(loan), "counted");
  EXPECT_EQ(world_.clutch(clutch_).occasion.sac_number, 1U);
}

TEST_F(Terms, CountASacThatWasEnteredAsLostAndCameToSomething) {
  const LoanId loan = AgreeOnOneSac();
  ASSERT_EQ(Lay(loan), "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {facts::SacLoss{.clutch = clutch_, .day = On("2026-05-20")}}),
            "counted");
  ASSERT_EQ(
      world_.Say(world_.tomas,
                 {facts::Count{.clutch = clutch_, .day = On("2026-05-25"), .slings_living = 10}}),
      "counted FLAG_COUNT_AFTER_LOSS");
  EXPECT_EQ(Lay(loan), "refused NOT_COVERED");
}

// Who finds nothing but dead slings in it takes nobody's sac away; who finds one alive later does.
TEST_F(Terms, LetTheNextSacTakeThePlaceOfALostOneThatWasCountedWithoutSlings) {
  const LoanId loan = AgreeOnOneSac();
  ASSERT_EQ(Lay(loan), "counted");
  const ClutchId lost = clutch_;
  ASSERT_EQ(world_.Say(world_.tomas, {facts::SacLoss{.clutch = lost, .day = On("2026-05-20")}}),
            "counted");
  facts::Count count{
      .clutch = lost, .day = On("2026-05-25"), .slings_living = 0, .slings_dead = 30};
  ASSERT_EQ(world_.Say(world_.tomas, {count}), "counted FLAG_COUNT_AFTER_LOSS");
  EXPECT_EQ(Lay(loan), "counted");
  count.count_token = world_.clutch(lost).counts.back().token;
  count.slings_living = 2;
  ASSERT_EQ(world_.Say(world_.tomas, {count}), "counted");
  EXPECT_EQ(world_.loan(loan).sacs.front().sacs, 2U);
}

TEST_F(Terms, ShareALaterSacByItsOwnShares) {
  const LoanId loan = Agree([](facts::Terms& terms) {
    terms.later_shares = {{.first_sac = 2, .shares = {{.party = 1, .weight = 1}}}};
  });
  ASSERT_EQ(Lay(loan), "counted");
  ASSERT_EQ(Lay(loan), "counted");
  const Token count = Count(10);
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {5, 5})}), "refused SPLIT_DIFFERS");
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {0, 10})}), "counted");
}

TEST_F(Terms, ShareByTheirMethodAndRefuseASplitByAnother) {
  const LoanId loan = Agree([](facts::Terms& terms) {
    terms.shares[1].weight = 3;
    terms.apportioning.method = facts::Method::kDHondt;
  });
  ASSERT_EQ(Lay(loan), "counted");
  const Token count = Count(3);
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {1, 2})}), "refused SPLIT_DIFFERS");
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {0, 3})}), "counted");
}

TEST_F(Terms, CarryRemaindersOverFromSplitToSplit) {
  const LoanId loan =
      Agree([](facts::Terms& terms) { terms.apportioning.carry = facts::Carry::kQuota; });
  ASSERT_EQ(Lay(loan), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {Split(Count(5), {3, 2})}), "counted");
  ASSERT_EQ(Lay(loan), "counted");
  const Token count = Count(5);
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {3, 2}, 5)}), "refused SPLIT_DIFFERS");
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {2, 3}, 5)}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).occasion.carried_slings, 5U);
  const auto id = shares::CarryIdOf(facts::ParseAgreement(world_.loan(loan).agreement)->terms, 1);
  const Carry* carry = world_.state().Find<Carry>(*id);
  ASSERT_NE(carry, nullptr);
  EXPECT_EQ(carry->slings, 10U);
  EXPECT_EQ(carry->splits, 2U);
  EXPECT_EQ(carry->clutch, clutch_);
}

TEST_F(Terms, SupersedeASplitThatDidNotKnowWhatWasSharedBefore) {
  const LoanId loan =
      Agree([](facts::Terms& terms) { terms.apportioning.carry = facts::Carry::kQuota; });
  ASSERT_EQ(Lay(loan), "counted");
  const ClutchId first = clutch_;
  const Token first_count = Count(5);
  ASSERT_EQ(Lay(loan), "counted");
  ASSERT_EQ(world_.Say(world_.tomas, {Split(Count(7), {4, 3})}), "counted");
  const std::uint64_t winner = world_.arrival();
  clutch_ = first;
  EXPECT_EQ(world_.Say(world_.mira, {Split(first_count, {3, 2})}),
            fmt::format("superseded CARRY_MOVED by {}", winner));
  EXPECT_EQ(world_.Say(world_.mira, {Split(first_count, {2, 3}, 7)}), "counted");
}

TEST_F(Terms, CarryNothingWhereTheyDoNotSaySo) {
  const LoanId loan = Agree([](facts::Terms&) {});
  ASSERT_EQ(Lay(loan), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {Split(Count(5), {3, 2}, 4)}), "refused SPLIT_DIFFERS");
}

TEST_F(Terms, DivideTheMalesOwnersPartBetweenTheOwnersOfPossibleSires) {
  const AnimalId other = world_.Enter(world_.bela, "bh-2", facts::Sex::kMale);
  const LoanId loan = Agree([](facts::Terms&) {});
  ASSERT_EQ(Pair(world_.tomas, male_, "2026-03-01"), "counted");
  ASSERT_EQ(Pair(world_.tomas, other, "2026-03-05"), "counted");
  ASSERT_EQ(Lay(loan), "counted");
  const Token count = Count(20);
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {10, 10})}), "refused SPLIT_DIFFERS");
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {5, 10, 5})}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).occasion.sire_owners.size(), 2U);
}

TEST_F(Terms, DivideByWhoOwnedTheMaleWhenHeWasPaired) {
  const LoanId loan = Agree([](facts::Terms&) {});
  const AnimalId other = world_.Enter(world_.bela, "bh-2", facts::Sex::kMale);
  ASSERT_EQ(Pair(world_.tomas, other, "2026-03-05"), "counted");
  ASSERT_EQ(world_.Say(world_.bela, {facts::Gift{.animal = other,
                                                 .receiver = world_.iva.id,
                                                 .owner_token = world_.animal(other).owner_token}}),
            "counted");
  ASSERT_EQ(Lay(loan), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {Split(Count(20), {5, 10, 5})}), "counted");
}

TEST_F(Terms, ShareNothingOutBeforeTheWitnessHasConfirmedTheCount) {
  const LoanId loan = Agree([&](facts::Terms& terms) { terms.counting.witness = world_.iva.id; });
  ASSERT_EQ(Lay(loan), "counted");
  const Token count = Count(20);
  const facts::CountWitness witness{
      .clutch = clutch_, .count_token = count, .day = On("2026-05-21")};
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {10, 10})}), "refused WITNESS_MISSING");
  EXPECT_EQ(world_.Say(world_.bela, {witness}), "void NOT_WITNESS");
  facts::CountWitness other = witness;
  other.count_token = Numbered<Token>(77);
  EXPECT_EQ(world_.Say(world_.iva, {other}), "refused NOT_COUNTED");
  EXPECT_EQ(world_.Say(world_.iva, {witness}), "counted");
  EXPECT_EQ(world_.clutch(clutch_).counts[0].witness, world_.iva.id);
  EXPECT_EQ(world_.Say(world_.mira, {Split(count, {10, 10})}), "counted");
}

TEST_F(Terms, HaveNobodyConfirmWhatHeCountedHimself) {
  const LoanId loan = Agree([&](facts::Terms& terms) { terms.counting.witness = world_.tomas.id; });
  ASSERT_EQ(Lay(loan), "counted");
  const Token count = Count(20);
  EXPECT_EQ(world_.Say(world_.tomas,
                       {facts::CountWitness{
                           .clutch = clutch_, .count_token = count, .day = On("2026-05-21")}}),
            "refused WITNESS_COUNTED");
}

TEST_F(Terms, FlagACountBySomebodyElseThanAgreed) {
  const LoanId loan = Agree([&](facts::Terms& terms) { terms.counting.counter = world_.mira.id; });
  ASSERT_EQ(Lay(loan), "counted");
  EXPECT_EQ(
      world_.Say(world_.tomas,
                 {facts::Count{.clutch = clutch_, .day = On("2026-05-20"), .slings_living = 9}}),
      "counted FLAG_COUNTER_OTHER");
}

TEST_F(Terms, GiveTheOwnerOfAPossibleSireASeatBehindTheParties) {
  const AnimalId other = world_.Enter(world_.bela, "bh-2", facts::Sex::kMale);
  const LoanId loan = Agree([](facts::Terms&) {});
  ASSERT_EQ(Pair(world_.tomas, male_, "2026-03-01"), "counted");
  ASSERT_EQ(Pair(world_.tomas, other, "2026-03-05"), "counted");
  ASSERT_EQ(Lay(loan), "counted");
  const Token count = Count(20);
  ASSERT_EQ(world_.Say(world_.mira, {Split(count, {5, 10, 5})}), "counted");
  ASSERT_EQ(world_.clutch(clutch_).parties.size(), 3U);
  EXPECT_EQ(world_.clutch(clutch_).parties[2].party, world_.bela.id);
  EXPECT_EQ(world_.clutch(clutch_).parties[2].credited, 5U);
  ASSERT_EQ(HatchLate(4), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {Split(count, {1, 2, 1})}), "counted");
}

TEST_F(Terms, ShareLateSlingsOnTheOccasionOfTheFirstSplit) {
  const LoanId loan =
      Agree([](facts::Terms& terms) { terms.apportioning.carry = facts::Carry::kQuota; });
  ASSERT_EQ(Lay(loan), "counted");
  const ClutchId first = clutch_;
  const Token first_count = Count(5);
  ASSERT_EQ(world_.Say(world_.mira, {Split(first_count, {3, 2})}), "counted");
  ASSERT_EQ(Lay(loan), "counted");
  ASSERT_EQ(world_.Say(world_.mira, {Split(Count(5), {2, 3}, 5)}), "counted");
  clutch_ = first;
  ASSERT_EQ(HatchLate(1), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {Split(first_count, {0, 1}, 10)}), "refused SPLIT_DIFFERS");
  EXPECT_EQ(world_.Say(world_.mira, {Split(first_count, {0, 1})}), "counted");
  const auto id = shares::CarryIdOf(facts::ParseAgreement(world_.loan(loan).agreement)->terms, 1);
  EXPECT_EQ(world_.state().Find<Carry>(*id)->slings, 11U);
}

TEST_F(Terms, CountWhatTheyGiveInWhatCarriesOverWhoeverGaveUp) {
  const LoanId loan =
      Agree([](facts::Terms& terms) { terms.apportioning.carry = facts::Carry::kQuota; });
  ASSERT_EQ(Lay(loan), "counted");
  ASSERT_EQ(
      world_.Say(world_.mira, {facts::ShareWaiver{.clutch = clutch_, .party = world_.mira.id}}),
      "counted");
  ASSERT_EQ(world_.Say(world_.mira, {Split(Count(5), {0, 5})}), "counted");
  ASSERT_EQ(Lay(loan), "counted");
  // By the terms mira had 3 of the first 5: what she gave up is not made up for now.
  EXPECT_EQ(world_.Say(world_.mira, {Split(Count(5), {2, 3}, 5)}), "counted");
}

class Forms : public ::testing::Test {
 protected:
  facts::TermsForm FormOf(std::string name) {
    facts::TermsForm form{.form = world_.NewId<FormId>(), .name = std::move(name)};
    form.parsed.parties = {{.keeper = {}, .role = facts::PartyRole::kMaleOwner},
                           {.keeper = {}, .role = facts::PartyRole::kFemaleOwner}};
    form.parsed.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
    form.terms = facts::BuildFormTerms(form.parsed);
    return form;
  }

  World world_;
};

TEST_F(Forms, HaveANameThatOneFormHas) {
  EXPECT_EQ(world_.Say(world_.tomas, {FormOf("usual")}), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {FormOf("Usual")}), "refused NAME_TAKEN");
  facts::TermsForm same = FormOf("other");
  ASSERT_EQ(world_.Say(world_.bela, {same}), "counted");
  same.name = "third";
  EXPECT_EQ(world_.Say(world_.bela, {same}), "refused ID_TAKEN");
}

TEST_F(Forms, AreSavedAnewByWhoSavedThemOrARegistrarOnTheVersionThatStands) {
  facts::TermsForm form = FormOf("usual");
  ASSERT_EQ(world_.Say(world_.tomas, {form}), "counted");
  form.form_token = world_.token();
  EXPECT_EQ(world_.Say(world_.bela, {form}), "void NOT_YOUR_FORM");
  EXPECT_EQ(world_.Say(world_.mira, {form}), "counted") << "a registrar";
  const std::uint64_t winner = world_.arrival();
  EXPECT_EQ(world_.Say(world_.tomas, {form}),
            fmt::format("superseded FORM_REPLACED by {}", winner));
  const Form* saved = world_.state().Find<Form>(form.form);
  ASSERT_NE(saved, nullptr);
  EXPECT_EQ(saved->version, 2U);
  EXPECT_EQ(saved->keeper, world_.tomas.id);
  form.form = Numbered<FormId>(98);
  EXPECT_EQ(world_.Say(world_.tomas, {form}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Forms, NameKeepersOfTheCooperative) {
  facts::TermsForm form = FormOf("usual");
  form.parsed.arbiter = Numbered<KeeperId>(99);
  EXPECT_EQ(world_.Say(world_.tomas, {form}), "refused UNKNOWN_PARTY");
}

}  // namespace
}  // namespace broodpact::registry
