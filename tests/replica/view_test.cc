// Goal: what is shown of a subject is what was stated about it, with its warnings.
// Method: a loan from offer to split between two keepers, looked at on the way.

#include "client/replica/view.h"

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "client/replica/acts_animal.h"
#include "client/replica/acts_clutch.h"
#include "client/replica/acts_loan.h"
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

// mira lends bruno to tomas, who has rosa.
class ViewTest : public ::testing::Test {
 protected:
  ViewTest() {
    society_.Found("mira", "CZ");
    society_.Enter("tomas", "DE");
    society_.Enter("iva", "CZ");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
    society_.Deliver();
    bruno_ = AddAnimal(society_, "mira",
                       {.group = group_,
                        .name = "bruno",
                        .sex = facts::Sex::kMale,
                        .sex_method = facts::SexMethod::kAdultForm,
                        .maturity = On("2026-09-01")});
    rosa_ =
        AddAnimal(society_, "tomas", {.group = group_, .name = "rosa", .sex = facts::Sex::kFemale});
    society_.Deliver();
  }

  LoanId Lend() {
    facts::Terms terms;
    terms.parties = {{society_.IdOf("mira"), facts::PartyRole::kMaleOwner},
                     {society_.IdOf("tomas"), facts::PartyRole::kFemaleOwner}};
    terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 2}};
    terms.counting.stage = 2;
    const auto loan = ProposeLoan(society_.At("mira"), {.animal = bruno_,
                                                        .lender = society_.IdOf("mira"),
                                                        .borrower = society_.IdOf("tomas"),
                                                        .return_day = DayOn("2027-03-01"),
                                                        .terms = terms,
                                                        .name = "winter",
                                                        .open_until = {}});
    EXPECT_TRUE(loan.ok()) << loan.status();
    society_.Deliver();
    return loan->id;
  }

  void Sign(const LoanId& loan) {
    const auto signed_loan = SignLoan(society_.At("tomas"), loan);
    EXPECT_TRUE(signed_loan.ok()) << signed_loan.status();
    society_.Deliver();
  }

  ClutchId Lay(const LoanId& loan, std::string_view pairing_day, std::string_view laying_day) {
    const auto paired = society_.At("tomas").Act(
        {facts::Pairing{.pairing = device::FreshId<PairingId>(society_.randomness()),
                        .male = bruno_,
                        .female = rosa_,
                        .day = On(pairing_day),
                        .outcome = facts::PairingOutcome::kInsertionSeen,
                        .loan = loan}});
    EXPECT_TRUE(paired.ok()) << paired.status();
    const auto clutch = device::FreshId<ClutchId>(society_.randomness());
    const auto laid = society_.At("tomas").Act({facts::SacLaying{
        .clutch = clutch, .female = rosa_, .day = On(laying_day), .name = "c-1", .loan = loan}});
    EXPECT_TRUE(laid.ok()) << laid.status();
    return clutch;
  }

  void Count(const ClutchId& clutch, std::uint32_t living, std::uint32_t moult_count = 0) {
    const auto counted = society_.At("tomas").Act(
        {facts::Count{.clutch = clutch,
                      .day = DaySpan{society_.clock().Today(), society_.clock().Today()},
                      .slings_living = living,
                      .slings_dead = 3,
                      .moult_count = moult_count}});
    EXPECT_TRUE(counted.ok()) << counted.status();
  }

  testing::Society society_;
  GroupId group_;
  AnimalId bruno_;
  AnimalId rosa_;
};

TEST_F(ViewTest, ShowsAnAnimalWithTheNamesOfOthers) {
  const auto bruno = society_.ViewOf("tomas").Animal(bruno_);
  ASSERT_TRUE(bruno.ok()) << bruno.status();
  EXPECT_EQ(bruno->name(), "bruno");
  EXPECT_EQ(bruno->group().name(), "hamorii-colima");
  EXPECT_EQ(bruno->owner().name(), "mira");
  EXPECT_EQ(bruno->holder().id(), ToText(society_.IdOf("mira")));
  EXPECT_EQ(bruno->sex(), "male");
  EXPECT_EQ(bruno->maturity_day(), "2026-09-01");
  EXPECT_EQ(bruno->death_day(), "");
  EXPECT_FALSE(bruno->has_sire());
  EXPECT_FALSE(bruno->has_loan());
  EXPECT_EQ(bruno->standing(), v1::STANDING_FINAL);
}

TEST_F(ViewTest, MarksWhatIsNotDelivered) {
  const auto moult =
      society_.At("tomas").Act({facts::Moult{.animal = rosa_, .day = On("2026-11?")}});
  ASSERT_TRUE(moult.ok()) << moult.status();
  const auto rosa = society_.ViewOf("tomas").Animal(rosa_);
  EXPECT_EQ(rosa->standing(), v1::STANDING_PROVISIONAL);
  ASSERT_EQ(rosa->moults_size(), 1);
  EXPECT_EQ(rosa->moults(0).day(), "2026-11?");
  society_.Deliver();
  EXPECT_EQ(society_.ViewOf("tomas").Animal(rosa_)->standing(), v1::STANDING_FINAL);
}

TEST_F(ViewTest, KnowsNoSubjectThatIsNotThere) {
  const View view = society_.ViewOf("mira");
  EXPECT_EQ(ReasonOf(view.Animal(AnimalId{{1}}).status()), "UNKNOWN_SUBJECT");
  EXPECT_EQ(ReasonOf(view.Loan(LoanId{{1}}).status()), "UNKNOWN_SUBJECT");
  EXPECT_EQ(ReasonOf(view.Split(ClutchId{{1}}).status()), "UNKNOWN_SUBJECT");
  society_.Start("bela");
  EXPECT_EQ(ReasonOf(society_.ViewOf("bela").Cooperative().status()), "UNKNOWN_SUBJECT");
}

TEST_F(ViewTest, ShowsALoanWithItsClausesAndSignatures) {
  const LoanId id = Lend();
  const auto offered = society_.ViewOf("tomas").Loan(id);
  ASSERT_TRUE(offered.ok()) << offered.status();
  EXPECT_EQ(offered->state(), "offered");
  EXPECT_EQ(offered->return_day(), "2027-03-01");
  EXPECT_EQ(offered->holder().name(), "mira");
  EXPECT_GT(offered->clauses_size(), 0);
  ASSERT_EQ(offered->signers_size(), 2);
  EXPECT_EQ(offered->signers(0).keeper().name(), "mira");
  EXPECT_EQ(offered->signers(0).role(), "owner of the male");
  EXPECT_EQ(offered->signers(0).signature_time(), "2026-11-25T09:00:00Z");
  EXPECT_EQ(offered->signers(1).signature_time(), "");

  Sign(id);
  const auto in_force = society_.ViewOf("mira").Loan(id);
  EXPECT_EQ(in_force->state(), "in force");
  EXPECT_NE(in_force->signers(1).signature_time(), "");
  EXPECT_EQ(society_.ViewOf("mira").Animal(bruno_)->loan().name(), "winter");
}

TEST_F(ViewTest, ShowsTheAccountsAndSiresOfAClutch) {
  const LoanId loan = Lend();
  Sign(loan);
  society_.clock().AdvanceDays(60);
  const ClutchId id = Lay(loan, "2026-12-01", "2027-01-10");
  EXPECT_EQ(society_.ViewOf("tomas").Clutch(id)->state(), "in the sac");
  Count(id, 100, 2);
  const auto clutch = society_.ViewOf("tomas").Clutch(id);
  ASSERT_TRUE(clutch.ok()) << clutch.status();
  EXPECT_EQ(clutch->state(), "counted");
  EXPECT_EQ(clutch->accounts().slings_hatched(), 103U);
  EXPECT_EQ(clutch->accounts().slings_living(), 100U);
  EXPECT_EQ(clutch->accounts().slings_dead(), 3U);
  ASSERT_EQ(clutch->possible_sires_size(), 1);
  EXPECT_EQ(clutch->possible_sires(0).name(), "bruno");
  EXPECT_EQ(clutch->counts(0).state(), "standing");
  EXPECT_THAT(clutch->warnings(), IsEmpty());
}

TEST_F(ViewTest, SplitsAsTheTermsSayWithTheWorking) {
  const LoanId loan = Lend();
  Sign(loan);
  society_.clock().AdvanceDays(60);
  const ClutchId id = Lay(loan, "2026-12-01", "2027-01-10");
  EXPECT_EQ(ReasonOf(society_.ViewOf("tomas").Split(id).status()), "CLUTCH_NOT_COUNTED");
  EXPECT_EQ(society_.ViewOf("tomas").SplitIf(id, {.slings = 9})->parts(0).slings(), 3U);
  Count(id, 100, 2);
  const auto split = society_.ViewOf("tomas").Split(id);
  ASSERT_TRUE(split.ok()) << split.status();
  EXPECT_EQ(split->slings_counted(), 100U);
  EXPECT_FALSE(split->recorded());
  ASSERT_EQ(split->parts_size(), 2);
  // 100 in the ratio 1 : 2 is 33 1/3 and 66 2/3: the larger remainder gets the sling left over.
  EXPECT_EQ(split->parts(0).slings(), 33U);
  EXPECT_EQ(split->parts(1).slings(), 67U);
  EXPECT_GT(split->working_size(), 2);

  const auto recorded = RecordSplit(society_.At("tomas"), id);
  ASSERT_TRUE(recorded.ok()) << recorded.status();
  const auto shared = society_.ViewOf("tomas").Split(id);
  ASSERT_TRUE(shared.ok()) << shared.status();
  EXPECT_TRUE(shared->recorded());
  EXPECT_EQ(shared->parts(1).slings(), 67U);
  EXPECT_TRUE(shared->parts(1).has_lot());
  society_.Deliver();
  const auto lots = society_.ViewOf("mira").LotsOf(society_.IdOf("mira"));
  ASSERT_EQ(lots->lots_size(), 1);
  EXPECT_EQ(lots->lots(0).slings(), 33U);
  EXPECT_EQ(ToText(*society_.ViewOf("mira").LotNamed("c-1")), lots->lots(0).id());
  EXPECT_EQ(ToText(*society_.ViewOf("mira").LotNamed("c-1/tomas")), shared->parts(1).lot().id());
  EXPECT_EQ(ReasonOf(society_.ViewOf("iva").LotNamed("c-1").status()), "UNKNOWN_SUBJECT");
}

TEST_F(ViewTest, GivesAClutchWithoutALoanToTheMothersOwner) {
  const ClutchId id = Lay(LoanId{}, "2026-10-01", "2026-11-10");
  Count(id, 40);
  const auto split = society_.ViewOf("tomas").Split(id);
  ASSERT_TRUE(split.ok()) << split.status();
  ASSERT_EQ(split->parts_size(), 1);
  EXPECT_EQ(split->parts(0).keeper().name(), "tomas");
  EXPECT_EQ(split->parts(0).slings(), 40U);
}

TEST_F(ViewTest, WarnsOfWhatTwoKeepersWouldArgueAbout) {
  const LoanId loan = Lend();
  Sign(loan);  // on 2026-11-25, after the sac was laid
  const ClutchId id = Lay(loan, "2026-10-01", "2026-11-10");
  Count(id, 100, 3);
  const auto clutch = society_.ViewOf("tomas").Clutch(id);
  ASSERT_TRUE(clutch.ok()) << clutch.status();
  EXPECT_THAT(clutch->warnings(), Contains(HasSubstr("after the sac was laid (2026-11-10)")));
  EXPECT_THAT(clutch->warnings(), Contains("counted at moult 3, and agreed was moult 2"));
}

TEST_F(ViewTest, WarnsOfSeveralSiresAndOfNone) {
  const AnimalId karel = AddAnimal(
      society_, "tomas",
      {.group = group_, .name = "karel", .sex = facts::Sex::kMale, .maturity = On("2026-08-01")});
  ASSERT_TRUE(society_.At("tomas")
                  .Act({facts::Pairing{.pairing = device::FreshId<PairingId>(society_.randomness()),
                                       .male = karel,
                                       .female = rosa_,
                                       .day = On("2026-09-20")}})
                  .ok());
  const ClutchId id = Lay(LoanId{}, "2026-10-01", "2026-11-10");
  const auto clutch = society_.ViewOf("tomas").Clutch(id);
  EXPECT_EQ(clutch->possible_sires_size(), 2);
  EXPECT_THAT(clutch->warnings(), Contains(HasSubstr("several males may be the sire")));

  // A moult sheds the stored sperm.
  ASSERT_TRUE(
      society_.At("tomas").Act({facts::Moult{.animal = rosa_, .day = On("2026-10-20")}}).ok());
  const auto after = society_.ViewOf("tomas").Clutch(id);
  EXPECT_EQ(after->possible_sires_size(), 0);
  EXPECT_THAT(after->warnings(), Contains(HasSubstr("no sire is known")));
}

TEST_F(ViewTest, ListsByNameAndByPage) {
  for (const char* name : {"d", "b", "a", "c"}) {
    AddAnimal(society_, "iva", {.group = group_, .name = name});
  }
  const View view = society_.ViewOf("iva");
  std::vector<std::string> names;
  const auto all = view.Animals({.keeper = society_.IdOf("iva")});
  for (const v1::Animal& animal : all->animals()) names.push_back(animal.name());
  EXPECT_THAT(names, ElementsAre("a", "b", "c", "d"));
  EXPECT_EQ(all->next_page(), "");

  for (const auto& group : {std::optional<GroupId>(), std::optional<GroupId>(group_)}) {
    std::set<std::string> paged;
    AnimalFilter filter{.group = group, .count_max = 2};
    for (int page = 0; page < 3; ++page) {
      const auto list = view.Animals(filter);
      ASSERT_TRUE(list.ok()) << list.status();
      EXPECT_EQ(list->animals_size(), 2);
      for (const v1::Animal& animal : list->animals()) paged.insert(animal.name());
      EXPECT_EQ(list->next_page().empty(), page == 2);
      if (page < 2) filter.after = AnimalId{*ParseIdText(list->next_page())};
    }
    EXPECT_THAT(paged, ElementsAre("a", "b", "bruno", "c", "d", "rosa"));
  }
}

TEST_F(ViewTest, ListsTheOpenLoansOfAParty) {
  const LoanId loan = Lend();
  EXPECT_EQ(society_.ViewOf("tomas").LoansOf(society_.IdOf("tomas"))->loans_size(), 1);
  EXPECT_EQ(society_.ViewOf("tomas").LoansOf(society_.IdOf("iva"))->loans_size(), 0);
  ASSERT_TRUE(RefuseLoan(society_.At("tomas"), loan, "no time").ok());
  EXPECT_EQ(society_.ViewOf("tomas").LoansOf(society_.IdOf("tomas"))->loans_size(), 0);
  EXPECT_EQ(society_.ViewOf("tomas").Loans()->loans(0).state(), "declined");
  EXPECT_EQ(society_.ViewOf("tomas").Loans()->loans(0).reason(), "no time");
}

TEST_F(ViewTest, TellsTheLogInWords) {
  const LoanId loan = Lend();
  Sign(loan);
  const View view = society_.ViewOf("mira");
  std::vector<std::string> sentences;
  const store::Store& log = society_.At("mira").store();
  const auto visited = log.VisitArrivals(
      1, log.point().arrivals, [&](std::uint64_t arrival, const store::StoredArrival& stored) {
        const auto commit = facts::ParseCommit(stored.bytes);
        if (!commit.ok()) return commit.status();
        const auto entry =
            LogEntryOf(view, *commit, arrival, facts::TimesOf(stored), stored.verdict);
        if (!entry.ok()) return entry.status();
        EXPECT_EQ(entry->verdict().kind(), v1::VERDICT_KIND_COUNTED);
        sentences.push_back(entry->keeper().name() + " " + entry->statements(0));
        return absl::OkStatus();
      });
  ASSERT_TRUE(visited.ok()) << visited;
  EXPECT_EQ(sentences.front(), "mira founded show-room as mira");
  EXPECT_THAT(sentences, Contains("mira invited tomas as keeper"));
  EXPECT_THAT(sentences, Contains("tomas joined as tomas"));
  EXPECT_THAT(sentences, Contains("tomas entered rosa (female) in group hamorii-colima"));
  EXPECT_THAT(sentences, Contains("mira proposed loan winter: bruno from mira to tomas until "
                                  "2027-03-01"));
  EXPECT_EQ(sentences.back(), "tomas signed loan winter");
}

TEST_F(ViewTest, TellsWhenWhatArrivedAgainHadFirstArrived) {
  const store::Store& log = society_.At("mira").store();
  const std::uint64_t last = log.point().arrivals;
  const auto stored = log.ReadArrival(last);
  const auto commit = facts::ParseCommit(stored->bytes);
  const auto entry_of = [&](const facts::ArrivalTimes& times) {
    return *LogEntryOf(society_.ViewOf("mira"), *commit, last, times, stored->verdict);
  };
  const v1::LogEntry again = entry_of({.time_ms = 2'000, .first_time_ms = 1'000});
  EXPECT_EQ(again.arrival_time(), "1970-01-01T00:00:02Z");
  EXPECT_EQ(again.first_arrival_time(), "1970-01-01T00:00:01Z");
  EXPECT_EQ(entry_of({.time_ms = 2'000}).first_arrival_time(), "");
}

}  // namespace
}  // namespace broodpact::replica
