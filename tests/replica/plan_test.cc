// Goal: a plan is made of what the registry knows, says plainly what it rests on and why somebody
// is left out, keeps to vetoes, and turns into loan offers in one step. Method: a small cooperative
// whose right answers can be told by hand.

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/replica/acts_clutch.h"
#include "client/replica/acts_plan.h"
#include "client/replica/view.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using ::testing::Contains;
using testing::DayOn;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::On;
using ::testing::SizeIs;

class Planning : public ::testing::Test {
 protected:
  Planning() {
    society_.Found("mira", "CZ");
    society_.Enter("tomas", "DE");
    society_.Enter("iva", "CZ");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
  }

  AnimalId Male(const std::string& keeper, const std::string& name, AnimalId sire = {},
                AnimalId dam = {}) {
    return AddAnimal(society_, keeper,
                     {.group = group_,
                      .name = name,
                      .sex = facts::Sex::kMale,
                      .sire = sire,
                      .dam = dam,
                      .maturity = On("2026-10-01")});
  }
  AnimalId Female(const std::string& keeper, const std::string& name, AnimalId sire = {},
                  AnimalId dam = {}) {
    return AddAnimal(
        society_, keeper,
        {.group = group_, .name = name, .sex = facts::Sex::kFemale, .sire = sire, .dam = dam});
  }

  v1::Plan PlanOf(const std::string& keeper, PlanQuery query = {}) {
    query.group = group_;
    if (query.day == Day{}) query.day = DayOn("2026-12-01");
    query.today = DayOn("2026-11-25");
    const auto plan = society_.ViewOf(keeper).Plan(query);
    EXPECT_TRUE(plan.ok()) << plan.status();
    return plan.ok() ? *plan : v1::Plan{};
  }

  static std::vector<std::string> PairsOf(const v1::Plan& plan) {
    std::vector<std::string> pairs;
    for (const v1::PlanPair& pair : plan.pairs()) {
      pairs.push_back(pair.male().name() + " " + pair.female().name());
    }
    return pairs;
  }

  static std::vector<std::string> RestOf(const v1::Plan& plan) {
    std::vector<std::string> rest;
    for (const v1::PlanRest& one : plan.rest()) {
      rest.push_back(one.animal().name() + ": " + one.reason());
    }
    return rest;
  }

  void Veto(const std::string& keeper, const facts::PlanVeto& veto) {
    const auto acted = StateVeto(society_.At(keeper), veto);
    ASSERT_TRUE(acted.ok()) << acted.status();
    society_.Deliver();
  }

  testing::Society society_;
  GroupId group_;
};

TEST_F(Planning, LeavesOutAnimalsOfWhoHasLeft) {
  Male("tomas", "karel");
  Female("tomas", "luna");
  Female("mira", "rosa");
  society_.Deliver();
  ASSERT_TRUE(society_.At("tomas").Act({facts::Leaving{}}).ok());
  society_.Deliver();
  const v1::Plan plan = PlanOf("mira");
  EXPECT_THAT(PairsOf(plan), IsEmpty());
  EXPECT_THAT(RestOf(plan), Contains("karel: tomas, who has it, has left the cooperative"));
}

TEST_F(Planning, FindsNothingWantedAtWhoHasLeft) {
  ASSERT_TRUE(
      StateWant(society_.At("mira"), {.group = group_, .kind = facts::WantKind::kMale}).ok());
  Male("tomas", "karel");
  society_.Deliver();
  EXPECT_THAT(*society_.ViewOf("mira").Fits(DayOn("2026-12-01")), SizeIs(1));
  ASSERT_TRUE(society_.At("tomas").Act({facts::Leaving{}}).ok());
  society_.Deliver();
  EXPECT_THAT(*society_.ViewOf("mira").Fits(DayOn("2026-12-01")), IsEmpty());
}

TEST_F(Planning, KeepsSibsApartAndSaysWhatThatIsWorth) {
  const AnimalId sire = Male("iva", "old");
  ASSERT_TRUE(society_.At("iva").Act({facts::Death{.animal = sire, .day = On("2026-11-01")}}).ok());
  const AnimalId dam = Female("iva", "mother");
  ASSERT_TRUE(society_.At("iva").Act({facts::Death{.animal = dam, .day = On("2026-11-01")}}).ok());
  society_.Deliver();
  Male("mira", "bruno", sire, dam);
  Female("mira", "rosa", sire, dam);
  Male("tomas", "karel");
  Female("tomas", "luna");
  society_.Deliver();
  const v1::Plan plan = PlanOf("mira", {.per_male = 1});
  EXPECT_THAT(PairsOf(plan), ElementsAre("bruno luna", "karel rosa"));
  ASSERT_EQ(plan.figures_size(), 3);
  EXPECT_EQ(plan.figures(0).name(), "plan");
  EXPECT_EQ(plan.figures(0).offspring_inbreeding(), 0);
  EXPECT_EQ(plan.figures(0).journeys(), 2U);
  EXPECT_EQ(plan.figures(1).name(), "no exchange");
  EXPECT_DOUBLE_EQ(plan.figures(1).offspring_inbreeding(), 0.125);  // of 1/4 and 0
  // What all offspring have together depends on how often each parent is used alone; whom each is
  // paired with shows in their inbreeding, and in what the pairs are worth.
  EXPECT_DOUBLE_EQ(plan.figures(0).gene_diversity(), plan.figures(1).gene_diversity());
  EXPECT_GT(plan.figures(0).worth(), plan.figures(1).worth());
  EXPECT_GT(plan.figures(0).worth(), plan.figures(2).worth());
  EXPECT_THAT(plan.pairs(0).caution(), HasSubstr("ask your authority"));
  EXPECT_GT(plan.pairs(0).distance_km(), 0);
  EXPECT_THAT(plan.remarks(), Contains(HasSubstr("prior, from memory")));
  // The same from every replica, whoever asks.
  EXPECT_EQ(PairsOf(PlanOf("tomas", {.per_male = 1})), PairsOf(plan));
}

TEST_F(Planning, SaysPlainlyThatACeilingLeavesNoPlan) {
  const AnimalId sire = Male("mira", "old");
  const AnimalId dam = Female("mira", "mother");
  Male("mira", "bruno", sire, dam);
  ASSERT_TRUE(society_.At("mira").Act({facts::Death{.animal = dam, .day = On("2026-11-01")}}).ok());
  ASSERT_TRUE(
      society_.At("mira").Act({facts::Death{.animal = sire, .day = On("2026-11-01")}}).ok());
  Female("mira", "rosa", sire, dam);
  const v1::Plan plan = PlanOf("mira", {.offspring_inbreeding_max = 0.125});
  EXPECT_THAT(PairsOf(plan), IsEmpty());
  ASSERT_GE(plan.remarks_size(), 1);
  EXPECT_THAT(plan.remarks(0), HasSubstr("above the ceiling of inbreeding (0.125) 1"));
  EXPECT_THAT(plan.remarks(0), HasSubstr("the lowest is 0.2500"));
  EXPECT_EQ(plan.figures(0).gene_diversity(), -1);
}

TEST_F(Planning, SaysPlainlyThatAGroupHasNobody) {
  EXPECT_THAT(PlanOf("mira").remarks(0), HasSubstr("no mature male and no female"));
  Female("mira", "rosa");
  EXPECT_THAT(PlanOf("mira").remarks(0), HasSubstr("no mature male that could go"));
}

TEST_F(Planning, LeavesOutWhoCannotBePairedAndSaysWhy) {
  const AnimalId bruno = Male("mira", "bruno");
  const AnimalId rosa = Female("mira", "rosa");
  Female("mira", "luna");
  AddAnimal(
      society_, "mira",
      {.group = group_, .name = "young", .sex = facts::Sex::kMale, .maturity = On("2027-02-01")});
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::Pairing{.pairing = PairingId{.bytes = {9}},
                                       .male = bruno,
                                       .female = rosa,
                                       .day = On("2026-11-01"),
                                       .outcome = facts::PairingOutcome::kInsertionSeen}})
                  .ok());
  const v1::Plan plan = PlanOf("mira");
  EXPECT_THAT(PairsOf(plan), ElementsAre("bruno luna"));
  EXPECT_THAT(RestOf(plan), ::testing::UnorderedElementsAre(
                                "rosa: was paired on 2026-11-01, and has not moulted since",
                                "young: matures on 2027-02-01"));
}

TEST_F(Planning, KeepsToVetoes) {
  const AnimalId bruno = Male("mira", "bruno");
  Male("iva", "karel");
  Female("tomas", "luna");
  society_.Deliver();
  EXPECT_THAT(PairsOf(PlanOf("mira")), SizeIs(1));
  Veto("tomas", {.other_keeper = society_.IdOf("mira")});
  EXPECT_THAT(PairsOf(PlanOf("mira")), ElementsAre("karel luna"));
  Veto("iva", {.other_keeper = society_.IdOf("tomas")});
  const v1::Plan none = PlanOf("mira");
  EXPECT_THAT(PairsOf(none), IsEmpty());
  EXPECT_THAT(none.remarks(0), HasSubstr("vetoed or promised elsewhere 2"));
  Veto("tomas", {.other_keeper = society_.IdOf("mira"), .stance = facts::VetoStance::kLifted});
  EXPECT_THAT(PairsOf(PlanOf("mira")), ElementsAre("bruno luna"));
  Veto("mira", {.animal = bruno});
  EXPECT_THAT(RestOf(PlanOf("mira")), Contains("bruno: kept out of plans by its keeper"));
  const auto list = society_.ViewOf("iva").Vetoes();
  ASSERT_TRUE(list.ok());
  EXPECT_EQ(list->vetoes_size(), 2);
}

// A veto is its keeper's: with the animal given away it is read no more.
TEST_F(Planning, ReadsAVetoAsLongAsItsKeeperKeepsTheAnimal) {
  const AnimalId bruno = Male("mira", "bruno");
  Female("tomas", "luna");
  society_.Deliver();
  Veto("mira", {.animal = bruno});
  EXPECT_THAT(PairsOf(PlanOf("mira")), IsEmpty());
  const auto animal = registry::Read<registry::Animal>(society_.At("mira").view(), bruno);
  ASSERT_TRUE(animal.ok() && *animal);
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::Gift{.animal = bruno,
                                    .receiver = society_.IdOf("iva"),
                                    .owner_token = (*animal)->owner_token,
                                    .holder_token = (*animal)->holder_token}})
                  .ok());
  society_.Deliver();
  EXPECT_THAT(PairsOf(PlanOf("mira")), ElementsAre("bruno luna"));
}

TEST_F(Planning, OffersOwnMalesInOneStep) {
  Male("mira", "bruno");
  Male("mira", "karel");
  Female("tomas", "luna");
  Female("iva", "rosa");
  society_.Deliver();
  const v1::Plan plan = PlanOf("mira", {.per_male = 1});
  EXPECT_THAT(PairsOf(plan), SizeIs(2));
  auto drafts = OffersOf(society_.At("mira"), plan);
  ASSERT_TRUE(drafts.ok()) << drafts.status();
  ASSERT_THAT(*drafts, SizeIs(2));
  for (LoanDraft& draft : *drafts) {
    draft.terms.parties = {{draft.lender, facts::PartyRole::kMaleOwner},
                           {draft.borrower, facts::PartyRole::kFemaleOwner}};
    draft.terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
  }
  const auto acted = OfferAll(society_.At("mira"), *drafts);
  ASSERT_TRUE(acted.ok()) << acted.status();
  EXPECT_EQ(acted->undelivered, 1U) << "one commit";
  const auto loans = society_.ViewOf("mira").LoansOf(society_.IdOf("mira"));
  ASSERT_TRUE(loans.ok());
  EXPECT_EQ(loans->loans_size(), 2);
  // What is offered is not offered again, and others have nothing to offer.
  EXPECT_THAT(*OffersOf(society_.At("mira"), plan), IsEmpty());
  EXPECT_THAT(*OffersOf(society_.At("tomas"), plan), IsEmpty());
}

TEST_F(Planning, GoesByTheCooperativesOwnPairingsOnceThereAreEnough) {
  // Six females were paired; four laid, and of these sacs three hatched and one was eaten.
  const AnimalId bruno = Male("mira", "bruno");
  for (std::uint8_t i = 0; i < 6; ++i) {
    const AnimalId female = Female("mira", "f-" + std::to_string(i));
    ASSERT_TRUE(society_.At("mira")
                    .Act({facts::Pairing{.pairing = PairingId{.bytes = {9, i}},
                                         .male = bruno,
                                         .female = female,
                                         .day = On("2026-02-01"),
                                         .outcome = facts::PairingOutcome::kInsertionSeen}})
                    .ok());
    if (i >= 4) {
      ASSERT_TRUE(
          society_.At("mira").Act({facts::Moult{.animal = female, .day = On("2026-06-01")}}).ok());
      continue;
    }
    const ClutchId clutch{.bytes = {8, i}};
    ASSERT_TRUE(
        society_.At("mira")
            .Act({facts::SacLaying{.clutch = clutch, .female = female, .day = On("2026-04-01")}})
            .ok());
    if (i == 3) {
      ASSERT_TRUE(
          society_.At("mira")
              .Act({facts::SacLoss{.clutch = clutch, .day = On("2026-04-20"), .cause = "eaten"}})
              .ok());
      continue;
    }
    ASSERT_TRUE(
        society_.At("mira")
            .Act({facts::Count{.clutch = clutch, .day = On("2026-06-01"), .slings_living = 100}})
            .ok());
  }
  const v1::Plan plan = PlanOf("mira");
  ASSERT_GE(plan.pairs_size(), 1);
  // 4/6 of the pairings give a sac, and 3/4 of the sacs hatch; he is expected to live on.
  EXPECT_NEAR(plan.pairs(0).expected_sacs(), 0.5, 1e-9);
  EXPECT_THAT(plan.remarks(),
              Contains(HasSubstr("group: of 6 pairings 4 gave a sac (2 moulted, 0 died first")));
}

TEST_F(Planning, ShowsWhatIsWantedAndWhatFits) {
  const auto want =
      StateWant(society_.At("mira"), {.group = group_, .kind = facts::WantKind::kMale});
  ASSERT_TRUE(want.ok()) << want.status();
  const auto slings = StateWant(
      society_.At("iva"),
      {.group = group_, .kind = facts::WantKind::kSlings, .count = 5, .note = "any line"});
  ASSERT_TRUE(slings.ok()) << slings.status();
  society_.Deliver();
  EXPECT_THAT(*society_.ViewOf("mira").Fits(DayOn("2026-12-01")), IsEmpty());
  Male("tomas", "karel");
  society_.Deliver();
  const auto fits = society_.ViewOf("mira").Fits(DayOn("2026-12-01"));
  ASSERT_TRUE(fits.ok()) << fits.status();
  ASSERT_THAT(*fits, SizeIs(1));
  EXPECT_EQ((*fits)[0].sentence, "karel of tomas is free (abroad, group hamorii-colima)");

  const auto homes =
      society_.ViewOf("tomas").FindHomes({.group = group_, .day = DayOn("2026-12-01")});
  ASSERT_TRUE(homes.ok()) << homes.status();
  ASSERT_EQ(homes->matches_size(), 1);
  EXPECT_EQ(homes->matches(0).want().keeper().name(), "iva");
  EXPECT_EQ(homes->matches(0).want().count(), 5U);
  EXPECT_EQ(homes->matches(0).distance(), "abroad");

  ASSERT_TRUE(EndWant(society_.At("mira"), want->id).ok());
  EXPECT_THAT(*society_.ViewOf("mira").Fits(DayOn("2026-12-01")), IsEmpty());
}

}  // namespace
}  // namespace broodpact::replica
