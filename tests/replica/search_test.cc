// Goal: a search finds the males and females that could still be in time, and shows each criterion.
// Method: a small registry whose right answers can be told by hand.

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/replica/acts_loan.h"
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

class Search : public ::testing::Test {
 protected:
  // Founded so many days before the today of the tests.
  explicit Search(int days_before = 0) {
    society_.clock().AdvanceDays(-days_before);
    society_.Found("mira", "CZ");
    society_.Enter("tomas", "DE");
    society_.Enter("iva", "CZ");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
  }

  AnimalId Male(const std::string& keeper, const std::string& name, std::string_view maturity,
                AnimalId sire = {}, AnimalId dam = {}) {
    return AddAnimal(society_, keeper,
                     {.group = group_,
                      .name = name,
                      .sex = facts::Sex::kMale,
                      .sire = sire,
                      .dam = dam,
                      .maturity = On(maturity)});
  }

  AnimalId Female(const std::string& keeper, const std::string& name, AnimalId sire = {},
                  AnimalId dam = {}) {
    return AddAnimal(
        society_, keeper,
        {.group = group_, .name = name, .sex = facts::Sex::kFemale, .sire = sire, .dam = dam});
  }

  static std::vector<std::string> NamesOf(const v1::MaleMatchList& list) {
    std::vector<std::string> names;
    for (const v1::MaleMatch& match : list.matches()) names.push_back(match.animal().name());
    return names;
  }

  v1::MaleMatchList Find(const std::string& keeper, const MaleQuery& query) {
    const auto list = society_.ViewOf(keeper).FindMales(query);
    EXPECT_TRUE(list.ok()) << list.status();
    return list.ok() ? *list : v1::MaleMatchList{};
  }

  testing::Society society_;
  GroupId group_;
};

// Where animals were entered before what happened to them: their lives were watched.
class SearchOfWatchedLives : public Search {
 protected:
  SearchOfWatchedLives() : Search(760) {}
};

TEST_F(Search, NeedsAGroupOrAFemale) {
  EXPECT_EQ(ReasonOf(society_.ViewOf("mira").FindMales({.day = DayOn("2026-12-01")}).status()),
            "QUERY_FORM");
  EXPECT_EQ(ReasonOf(society_.ViewOf("mira").FindFemales({.day = DayOn("2026-12-01")}).status()),
            "QUERY_FORM");
}

TEST_F(Search, RefusesAMateOfTheWrongSex) {
  const AnimalId male = Male("mira", "bruno", "2026-09-01");
  const auto list = society_.ViewOf("mira").FindMales({.female = male, .day = DayOn("2026-12-01")});
  EXPECT_EQ(ReasonOf(list.status()), "QUERY_FORM");
}

TEST_F(Search, FindsNoMaleThatIsDeadOrNotMature) {
  const AnimalId dead = Male("mira", "dead", "2026-03-01");
  Male("mira", "bruno", "2026-09-01");
  AddAnimal(society_, "mira", {.group = group_, .name = "young", .sex = facts::Sex::kMale});
  ASSERT_TRUE(
      society_.At("mira").Act({facts::Death{.animal = dead, .day = On("2026-10-01")}}).ok());
  const auto list = Find("mira", {.group = group_, .day = DayOn("2026-12-01")});
  EXPECT_THAT(NamesOf(list), ElementsAre("bruno"));
  EXPECT_EQ(list.matches(0).mature_days(), 91);
  EXPECT_EQ(list.matches(0).offspring_inbreeding(), -1);
  // The cooperative knows nothing yet: a prior of the trade's table, named as such.
  EXPECT_EQ(list.matches(0).left_basis(), "prior, from memory");
  EXPECT_LT(list.matches(0).left_days_lower(), list.matches(0).left_days());
  EXPECT_EQ(list.matches(0).availability(), "free");
  EXPECT_THAT(NamesOf(Find("mira", {.group = group_, .day = DayOn("2026-08-31")})), IsEmpty());
}

TEST_F(Search, FindsNobodyOfWhoHasLeft) {
  Male("tomas", "karel", "2026-09-01");
  Female("tomas", "luna");
  society_.Deliver();
  const FemaleQuery females{.group = group_, .day = DayOn("2026-12-01")};
  EXPECT_EQ(society_.ViewOf("mira").FindFemales(females)->matches_size(), 1);
  ASSERT_TRUE(society_.At("tomas").Act({facts::Leaving{}}).ok());
  society_.Deliver();
  EXPECT_EQ(society_.ViewOf("mira").FindFemales(females)->matches_size(), 0);
  EXPECT_THAT(NamesOf(Find("mira", {.group = group_, .day = DayOn("2026-12-01")})), IsEmpty());
}

TEST_F(Search, PutsUnrelatedMalesBeforeBrothers) {
  const AnimalId sire = Male("mira", "old", "2020-01-01");
  const AnimalId dam = Female("mira", "mother");
  const AnimalId rosa = Female("mira", "rosa", sire, dam);
  Male("mira", "brother", "2026-11-01", sire, dam);
  Male("mira", "half-brother", "2026-10-01", sire);
  Male("mira", "stranger", "2026-09-01");
  const auto list = Find("mira", {.female = rosa, .day = DayOn("2026-12-01")});
  // Father and daughter, and full brother and sister, have kinship 1/4; half-brothers 1/8
  // (Wright, 1922). Of equals the one whose maturity is fresher comes first.
  EXPECT_THAT(NamesOf(list), ElementsAre("stranger", "half-brother", "brother", "old"));
  EXPECT_DOUBLE_EQ(list.matches(0).offspring_inbreeding(), 0);
  EXPECT_DOUBLE_EQ(list.matches(1).offspring_inbreeding(), 0.125);
  EXPECT_DOUBLE_EQ(list.matches(2).offspring_inbreeding(), 0.25);
  EXPECT_DOUBLE_EQ(list.matches(3).offspring_inbreeding(), 0.25);
  EXPECT_THAT(
      NamesOf(Find(
          "mira", {.female = rosa, .day = DayOn("2026-12-01"), .offspring_inbreeding_max = 0.125})),
      ElementsAre("stranger", "half-brother"));
}

TEST_F(Search, TellsWhoIsPromisedAndUntilWhen) {
  const AnimalId bruno = Male("mira", "bruno", "2026-11-01");
  Male("mira", "karel", "2026-09-01");
  society_.Deliver();
  facts::Terms terms;
  terms.parties = {{society_.IdOf("mira"), facts::PartyRole::kMaleOwner},
                   {society_.IdOf("tomas"), facts::PartyRole::kFemaleOwner}};
  terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
  const auto loan = ProposeLoan(society_.At("mira"), {.animal = bruno,
                                                      .lender = society_.IdOf("mira"),
                                                      .borrower = society_.IdOf("tomas"),
                                                      .return_day = DayOn("2027-02-01"),
                                                      .terms = terms,
                                                      .name = "",
                                                      .open_until = {}});
  ASSERT_TRUE(loan.ok()) << loan.status();
  society_.Deliver();
  ASSERT_TRUE(SignLoan(society_.At("tomas"), loan->id).ok());
  society_.Deliver();
  const auto before = Find("iva", {.group = group_, .day = DayOn("2027-01-15")});
  ASSERT_THAT(NamesOf(before), ElementsAre("karel", "bruno"));
  EXPECT_EQ(before.matches(1).availability(), "promised until 2027-02-01");
  EXPECT_THAT(NamesOf(Find("tomas", {.group = group_, .day = DayOn("2027-01-15")})),
              ElementsAre("bruno", "karel"));
}

TEST_F(Search, SaysWhatIsAbroadWithACaution) {
  Male("tomas", "far", "2026-09-01");
  Male("iva", "near", "2026-09-01");
  society_.Enter("bela");
  Male("bela", "somewhere", "2026-09-01");
  society_.Deliver();
  const auto list = Find("mira", {.group = group_, .day = DayOn("2026-12-01")});
  ASSERT_THAT(NamesOf(list), ElementsAre("near", "far", "somewhere"));
  EXPECT_EQ(list.matches(0).distance(), "same region");
  EXPECT_EQ(list.matches(0).caution(), "");
  EXPECT_EQ(list.matches(1).distance(), "abroad");
  EXPECT_THAT(list.matches(1).caution(), HasSubstr("ask your authority"));
  EXPECT_EQ(list.matches(2).distance(), "not said");
}

TEST_F(SearchOfWatchedLives, ExpectTheTimeLeftByThoseOfTheGroup) {
  // Four males lived 100, 200, 300 and 400 days after maturity; a fifth is watched.
  for (int i = 1; i <= 4; ++i) {
    const Day maturity = DayOn("2025-01-01");
    const Day death{maturity.number + 100 * i};
    const AnimalId male = Male("mira", "m-" + std::to_string(i), "2025-01-01");
    ASSERT_TRUE(
        society_.At("mira").Act({facts::Death{.animal = male, .day = DaySpan{death, death}}}).ok());
  }
  Male("mira", "fresh", "2026-11-01");
  const auto list = Find("mira", {.group = group_, .day = DayOn("2026-11-25")});
  ASSERT_THAT(NamesOf(list), ElementsAre("fresh"));
  // At 24 days all five were alive; the fifth is watched no longer than that, so that the curve
  // steps to 3/4 at 100 days and stands at 1/2 from 200 to 300: in the middle, 226 days from now.
  EXPECT_EQ(list.matches(0).left_days(), 226);
  EXPECT_EQ(list.matches(0).left_basis(), "5 lives, 4 ended");
  EXPECT_LE(list.matches(0).left_days_lower(), 226);
  EXPECT_THAT(
      NamesOf(Find("mira", {.group = group_, .day = DayOn("2026-11-25"), .left_days_min = 227})),
      IsEmpty());
}

// Who died before anybody entered him was never watched, and those entered alive were sure to have
// lived so long: the first do not count, the others from their entry on.
TEST_F(Search, CountsALifeFromItsEntryOn) {
  for (int i = 1; i <= 4; ++i) {
    const Day death{DayOn("2025-01-01").number + 100 * i};
    const AnimalId male = Male("mira", "m-" + std::to_string(i), "2025-01-01");
    ASSERT_TRUE(
        society_.At("mira").Act({facts::Death{.animal = male, .day = DaySpan{death, death}}}).ok());
  }
  Male("mira", "fresh", "2026-11-01");
  const auto list = Find("mira", {.group = group_, .day = DayOn("2026-11-25")});
  ASSERT_THAT(NamesOf(list), ElementsAre("fresh"));
  EXPECT_EQ(list.matches(0).left_basis(), "prior, from memory");
}

TEST_F(SearchOfWatchedLives, FallBackToTheGenusWhereTheGroupIsTooSmall) {
  const GroupId other = AddGroup(society_, "mira", "smithi-guerrero", "Brachypelma smithi");
  const GroupId foreign = AddGroup(society_, "mira", "seemanni", "Aphonopelma seemanni");
  for (int i = 1; i <= 4; ++i) {
    const Day death{DayOn("2025-01-01").number + 100 * i};
    const AnimalId male = AddAnimal(society_, "mira",
                                    {.group = other,
                                     .name = "m-" + std::to_string(i),
                                     .sex = facts::Sex::kMale,
                                     .maturity = On("2025-01-01")});
    ASSERT_TRUE(
        society_.At("mira").Act({facts::Death{.animal = male, .day = DaySpan{death, death}}}).ok());
  }
  Male("mira", "fresh", "2026-11-01");
  AddAnimal(
      society_, "mira",
      {.group = foreign, .name = "alone", .sex = facts::Sex::kMale, .maturity = On("2026-11-01")});
  const auto list = Find("mira", {.group = group_, .day = DayOn("2026-11-25")});
  ASSERT_EQ(list.matches_size(), 1);
  EXPECT_EQ(list.matches(0).left_days(), 226);
  EXPECT_EQ(list.matches(0).left_basis(), "genus: 5 lives, 4 ended");
  const auto alone = Find("mira", {.group = foreign, .day = DayOn("2026-11-25")});
  ASSERT_EQ(alone.matches_size(), 1);
  EXPECT_EQ(alone.matches(0).left_basis(), "prior, unchecked");
  // A table without any line: nothing is known, and nothing is said.
  const survival::Expectations empty;
  const auto without =
      Find("mira", {.group = foreign, .day = DayOn("2026-11-25"), .expectations = &empty});
  EXPECT_EQ(without.matches(0).left_days(), -1);
  EXPECT_EQ(without.matches(0).left_basis(), "");
}

TEST_F(Search, ShowsMalesThatWillBeMatureInTime) {
  // Five males of the group took 900 to 940 days from hatching to maturity.
  for (int i = 0; i < 5; ++i) {
    const Day maturity{DayOn("2026-01-01").number + 10 * i};
    AddAnimal(society_, "mira",
              {.group = group_,
               .name = "m-" + std::to_string(i),
               .sex = facts::Sex::kMale,
               .hatching = DaySpan{Day{DayOn("2026-01-01").number - 900},
                                   Day{DayOn("2026-01-01").number - 900}},
               .maturity = DaySpan{maturity, maturity}});
  }
  const Day hatching{DayOn("2026-11-25").number - 850};
  AddAnimal(society_, "mira",
            {.group = group_,
             .name = "soon",
             .sex = facts::Sex::kMale,
             .hatching = DaySpan{hatching, hatching}});
  const auto today = DayOn("2026-11-25");
  const auto find = [&](std::int32_t days) {
    return Find("mira", {.group = group_, .day = Day{today.number + days}, .today = today});
  };
  EXPECT_THAT(NamesOf(find(60)), ::testing::Not(Contains("soon")));
  const auto later = find(75);
  ASSERT_THAT(NamesOf(later), Contains("soon"));
  EXPECT_EQ(later.matches(5).animal().name(), "soon") << "after those who are mature";
  EXPECT_NEAR(later.matches(5).mature_chance(), 0.6, 0.11);
}

TEST_F(Search, ExplainsEachPlaceAndLeavesOutCriteriaThatAreIgnored) {
  const AnimalId sire = Male("mira", "old", "2020-01-01");
  const AnimalId dam = Female("mira", "mother");
  const AnimalId rosa = Female("mira", "rosa", sire, dam);
  Male("mira", "brother", "2026-11-01", sire, dam);
  Male("mira", "stranger", "2026-09-01");
  ASSERT_TRUE(
      society_.At("mira").Act({facts::Death{.animal = sire, .day = On("2026-11-01")}}).ok());
  MaleQuery query{.female = rosa, .day = DayOn("2026-12-01"), .reasons = Reasons::kGiven};
  const auto list = Find("mira", query);
  ASSERT_THAT(NamesOf(list), ElementsAre("stranger", "brother"));
  EXPECT_THAT(list.matches(1).reasons(),
              Contains("after stranger: lower inbreeding of the offspring"));
  EXPECT_GT(list.matches(0).diversity_gain(), list.matches(1).diversity_gain());
  query.ignored = {match::Criterion::kInbreeding};
  const auto other = Find("mira", query);
  ASSERT_THAT(NamesOf(other), ElementsAre("brother", "stranger"));
  EXPECT_THAT(other.order(), ::testing::Not(HasSubstr("inbreeding")));
}

TEST_F(Search, SaysThatTwoAreEqualInAll) {
  Male("mira", "one", "2026-09-01");
  Male("mira", "other", "2026-09-01");
  const auto list =
      Find("mira", {.group = group_, .day = DayOn("2026-12-01"), .reasons = Reasons::kGiven});
  ASSERT_EQ(list.matches_size(), 2);
  EXPECT_THAT(list.matches(1).reasons(), Contains(HasSubstr("equal in all, in order of id")));
}

TEST_F(Search, KeepsToBoundsOfDistancePairingsAndFreedom) {
  Male("tomas", "far", "2026-09-01");
  Male("iva", "near", "2026-09-01");
  society_.Deliver();
  EXPECT_THAT(
      NamesOf(Find("mira", {.group = group_, .day = DayOn("2026-12-01"), .distance_km_max = 100})),
      ElementsAre("near"));
  const auto list = Find("mira", {.group = group_, .day = DayOn("2026-12-01")});
  EXPECT_EQ(list.matches(0).distance_km(), 0);
  EXPECT_GT(list.matches(1).distance_km(), 100);
}

TEST_F(Search, FindsFemalesWithTheFresherMoultFirst) {
  const AnimalId bruno = Male("mira", "bruno", "2026-09-01");
  const AnimalId early = Female("iva", "early");
  const AnimalId late = Female("iva", "late");
  Female("iva", "unknown");
  for (const auto& [female, day] : {std::pair(early, "2026-05-01"), std::pair(late, "2026-08-01"),
                                    std::pair(late, "2026-02-01")}) {
    ASSERT_TRUE(society_.At("iva").Act({facts::Moult{.animal = female, .day = On(day)}}).ok());
  }
  society_.Deliver();
  const auto list =
      society_.ViewOf("mira").FindFemales({.male = bruno, .day = DayOn("2026-12-01")});
  ASSERT_TRUE(list.ok()) << list.status();
  ASSERT_EQ(list->matches_size(), 3);
  EXPECT_EQ(list->matches(0).animal().name(), "late");
  EXPECT_EQ(list->matches(0).moult_days(), 122);
  EXPECT_EQ(list->matches(1).animal().name(), "early");
  EXPECT_EQ(list->matches(2).moult_days(), -1);
  EXPECT_DOUBLE_EQ(list->matches(0).offspring_inbreeding(), 0);
}

TEST_F(Search, ShowsWhichFemalesAreReadyAndExplainsTheirPlaces) {
  const AnimalId bruno = Male("mira", "bruno", "2026-09-01");
  const AnimalId ready = AddAnimal(
      society_, "iva",
      {.group = group_, .name = "ready", .sex = facts::Sex::kFemale, .maturity = On("2024-05-01")});
  const AnimalId paired = Female("iva", "paired");
  const AnimalId guarding = Female("iva", "guarding");
  Female("iva", "young");
  society_.Deliver();
  const auto act = [&](facts::Statement statement) {
    const auto acted = society_.At("iva").Act({std::move(statement)});
    ASSERT_TRUE(acted.ok()) << acted.status();
  };
  act(facts::Pairing{
      .pairing = PairingId{{1}}, .male = bruno, .female = paired, .day = On("2026-10-01")});
  act(facts::SacLaying{.clutch = ClutchId{{1}}, .female = guarding, .day = On("2026-09-12")});
  society_.Deliver();
  FemaleQuery query{.male = bruno, .day = DayOn("2026-12-01"), .reasons = Reasons::kGiven};
  const auto list = society_.ViewOf("mira").FindFemales(query);
  ASSERT_TRUE(list.ok()) << list.status();
  ASSERT_EQ(list->matches_size(), 4);
  EXPECT_EQ(list->matches(0).animal().id(), ToText(ready));
  EXPECT_EQ(list->matches(0).breeding(), "ready");
  EXPECT_EQ(list->matches(1).animal().name(), "young");
  EXPECT_EQ(list->matches(1).breeding(), "not known to be mature");
  EXPECT_THAT(list->matches(1).reasons(),
              Contains("after ready: ready before not known to be mature before occupied"));
  std::vector<std::string> occupied{list->matches(2).breeding(), list->matches(3).breeding()};
  EXPECT_THAT(occupied,
              ::testing::UnorderedElementsAre("was paired on 2026-10-01, and has not moulted since",
                                              "has a sac, laid on 2026-09-12"));
  EXPECT_THAT(list->order(), HasSubstr("ready before"));
  EXPECT_THAT(list->remarks(), Contains(HasSubstr("a parent of")));

  query.bounds.breeding_max = match::Breeding::kReady;
  EXPECT_EQ(society_.ViewOf("mira").FindFemales(query)->matches_size(), 1);
  query.bounds = {};
  query.ignored = {match::FemaleCriterion::kBreeding};
  EXPECT_THAT(society_.ViewOf("mira").FindFemales(query)->order(),
              ::testing::Not(HasSubstr("ready before")));
}

// Founders are unrelated until a registrar says otherwise; then every number that rests on it says
// so.
TEST_F(Search, TakesFoundersAsCloseAsARegistrarSays) {
  const AnimalId rosa = Female("mira", "rosa");
  const AnimalId bruno = Male("tomas", "bruno", "2026-09-01");
  const AnimalId half = AddAnimal(
      society_, "mira", {.group = group_, .name = "half", .sex = facts::Sex::kFemale, .dam = rosa});
  society_.Deliver();
  EXPECT_EQ(society_.ViewOf("mira").Kinship(rosa, bruno)->kinship(), 0);
  ASSERT_TRUE(society_.At("mira")
                  .Act({facts::FounderKinship{
                      .group = group_, .numerator = 1, .denominator = 8, .reason = "one import"}})
                  .ok());
  society_.Deliver();
  const View view = society_.ViewOf("tomas");
  const auto kinship = view.Kinship(rosa, bruno);
  ASSERT_TRUE(kinship.ok()) << kinship.status();
  EXPECT_DOUBLE_EQ(kinship->kinship(), 0.125);
  EXPECT_THAT(kinship->remarks(),
              Contains("assumed: 2 founders of hamorii-colima are kin by 1/8, as registrar mira "
                       "stated: one import"));
  // The sire that nobody knows is a founder as well: her inbreeding is his kinship with her dam.
  EXPECT_DOUBLE_EQ(view.Kinship(half, bruno)->first_inbreeding(), 0.125);
  EXPECT_DOUBLE_EQ(view.Kinship(half, bruno)->kinship(), 0.125);
  const auto list = Find("tomas", {.female = rosa, .day = DayOn("2026-12-01")});
  ASSERT_EQ(list.matches_size(), 1);
  EXPECT_DOUBLE_EQ(list.matches(0).offspring_inbreeding(), 0.125);
  EXPECT_THAT(list.remarks(), Contains(HasSubstr("assumed: ")));

  ASSERT_TRUE(society_.At("mira").Act({facts::FounderKinship{.group = group_}}).ok());
  EXPECT_EQ(society_.ViewOf("mira").Kinship(rosa, bruno)->kinship(), 0);
}

TEST_F(Search, ComputesKinshipAndSaysWhatItRestsOn) {
  const AnimalId sire = Male("mira", "old", "2020-01-01");
  const AnimalId dam = Female("mira", "mother");
  const AnimalId rosa = Female("mira", "rosa", sire, dam);
  const AnimalId bruno = Male("mira", "bruno", "2026-11-01", sire, dam);
  const View view = society_.ViewOf("mira");
  const auto siblings = view.Kinship(rosa, bruno);
  ASSERT_TRUE(siblings.ok()) << siblings.status();
  EXPECT_DOUBLE_EQ(siblings->kinship(), 0.25);
  EXPECT_DOUBLE_EQ(siblings->first_inbreeding(), 0);
  EXPECT_THAT(siblings->remarks(), IsEmpty());
  const auto founders = view.Kinship(sire, dam);
  EXPECT_DOUBLE_EQ(founders->kinship(), 0);
  EXPECT_THAT(founders->remarks(), Contains(HasSubstr("a parent of old is not known")));
  EXPECT_DOUBLE_EQ(view.Kinship(rosa, rosa)->kinship(), 0.5);
  EXPECT_EQ(ReasonOf(view.Kinship(rosa, AnimalId{{1}}).status()), "UNKNOWN_SUBJECT");
}

TEST_F(Search, TakesTheParentsOfRaisedAnimalsFromTheirClutch) {
  const AnimalId sire = Male("mira", "bruno", "2026-08-01");
  const AnimalId dam = Female("mira", "rosa");
  const auto clutch = device::FreshId<ClutchId>(society_.randomness());
  const auto lot = device::FreshId<LotId>(society_.randomness());
  const auto Act = [&](facts::Statement statement) {
    const auto acted = society_.At("mira").Act({std::move(statement)});
    ASSERT_TRUE(acted.ok()) << acted.status();
  };
  Act(facts::Pairing{.pairing = device::FreshId<PairingId>(society_.randomness()),
                     .male = sire,
                     .female = dam,
                     .day = On("2026-09-01")});
  Act(facts::SacLaying{.clutch = clutch, .female = dam, .day = On("2026-10-01")});
  Act(facts::Count{.clutch = clutch, .day = On("2026-11-20"), .slings_living = 10});
  const Token count = FirstHalf<Token>(society_.At("mira").undelivered().back().commit.hash);
  Act(facts::SplitRecord{
      .clutch = clutch, .count_token = count, .shares = {{society_.IdOf("mira"), 10, lot}}});
  std::vector<AnimalId> raised;
  for (const char* name : {"first", "second"}) {
    raised.push_back(device::FreshId<AnimalId>(society_.randomness()));
    Act(facts::LotRaising{
        .lot = lot, .animal = raised.back(), .name = name, .day = On("2026-11-25")});
  }
  EXPECT_DOUBLE_EQ(society_.ViewOf("mira").Kinship(raised[0], raised[1])->kinship(), 0.25);

  // With a second possible sire they are full sibs still: whichever it was, he sired the clutch.
  const AnimalId other = Male("mira", "karel", "2026-08-01");
  Act(facts::Pairing{.pairing = device::FreshId<PairingId>(society_.randomness()),
                     .male = other,
                     .female = dam,
                     .day = On("2026-09-02")});
  const auto unsure = society_.ViewOf("mira").Kinship(raised[0], raised[1]);
  EXPECT_DOUBLE_EQ(unsure->kinship(), 0.25);
  EXPECT_DOUBLE_EQ(society_.ViewOf("mira").Kinship(raised[0], sire)->kinship(), 0.125);
  EXPECT_DOUBLE_EQ(society_.ViewOf("mira").Kinship(raised[0], other)->kinship(), 0.125);
  EXPECT_THAT(unsure->remarks(), Contains(HasSubstr("may have several sires")));
}

}  // namespace
}  // namespace broodpact::replica
