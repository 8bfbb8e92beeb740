// Goal: what a sync brought up is told with what can be done about it, and nothing else is advised.
// Method: keepers at a server that is no program; a folder is copied, and a male is promised twice.

#include "client/replica/notes.h"

#include <filesystem>
#include <string>

#include <gmock/gmock.h>

#include "client/replica/acts_animal.h"
#include "client/replica/acts_group.h"
#include "client/replica/acts_loan.h"
#include "tests/replica/testing/demand.h"
#include "tests/replica/testing/house.h"

namespace broodpact::replica {
namespace {

using ::testing::AllOf;
using testing::Demand;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::House;
using ::testing::IsEmpty;
using ::testing::Not;
using ::testing::SizeIs;

// Bruno is mira's male.
class SyncNotes : public ::testing::Test {
 protected:
  SyncNotes() {
    house_.Found("mira");
    house_.Enter("tomas");
    house_.Enter("iva");
    const Made<GroupId> group =
        Demand(EnterGroup(house_.At("mira"), {.name = "g", .taxon = "Brachypelma hamorii"}));
    bruno_ = Demand(EnterAnimal(house_.At("mira"),
                                {.group = group.id, .name = "bruno", .sex = facts::Sex::kMale}))
                 .id;
    SyncAll();
  }

  void SyncAll() {
    for (const std::string keeper : {"mira", "tomas", "iva"}) Demand(house_.Sync(keeper));
  }

  void Copy(const std::string& keeper, const std::string& copy) {
    house_.Close(keeper);
    std::filesystem::copy(house_.HomeOf(keeper).folder(), house_.HomeOf(copy).folder(),
                          std::filesystem::copy_options::recursive);
  }

  KeeperId IdOf(const std::string& keeper) { return house_.At(keeper).identity().keeper; }

  // By mira, unless it is asked for.
  LoanId Offer(const std::string& borrower, const std::string& by = "mira") {
    facts::Terms terms;
    terms.parties = {{.keeper = IdOf("mira"), .role = facts::PartyRole::kMaleOwner},
                     {.keeper = IdOf(borrower), .role = facts::PartyRole::kFemaleOwner}};
    terms.shares = {{.party = 0, .weight = 1}, {.party = 1, .weight = 1}};
    return Demand(ProposeLoan(house_.At(by), {.animal = bruno_,
                                              .lender = IdOf("mira"),
                                              .borrower = IdOf(borrower),
                                              .return_day = {},
                                              .terms = terms,
                                              .name = "to-" + borrower,
                                              .open_until = {}}))
        .id;
  }

  std::vector<std::string> NotesAt(const std::string& keeper, const Synced& synced) {
    return NotesOf(house_.At(keeper), synced);
  }

  House house_;
  AnimalId bruno_;
};

TEST_F(SyncNotes, TellWhatDoesNotCountOfWhatIsStatedAgain) {
  Copy("mira", "copy");
  Demand(GiveAnimal(house_.At("mira"), bruno_, IdOf("tomas")));
  Demand(house_.Sync("mira"));
  Demand(GiveAnimal(house_.At("copy"), bruno_, IdOf("iva")));
  const Synced synced = Demand(house_.Sync("copy"));
  ASSERT_THAT(synced.changed, SizeIs(1));
  EXPECT_EQ(synced.changed.front().arrival, house_.server().point().arrivals);
  EXPECT_EQ(synced.changed.front().before.kind, registry::VerdictKind::kCounted);
  EXPECT_NE(synced.changed.front().after.kind, registry::VerdictKind::kCounted);
  EXPECT_THAT(NotesAt("copy", synced),
              ElementsAre(AllOf(HasSubstr("1 commit does not count"), Not(HasSubstr("is lost")))));
}

TEST_F(SyncNotes, SayThatNothingIsLostWhereAllThatIsStatedAgainCounts) {
  Copy("mira", "copy");
  house_.AddGroups("mira", 1);
  Demand(EnterGroup(house_.At("copy"), {.name = "h", .taxon = "Brachypelma hamorii"}));
  const Synced synced = Demand(house_.Sync("copy"));
  EXPECT_THAT(synced.changed, IsEmpty());
  EXPECT_THAT(NotesAt("copy", synced), ElementsAre(HasSubstr("nothing is lost")));
}

TEST_F(SyncNotes, NameAnotherSearchWhereAPromiseWasLostAndNoSignature) {
  const LoanId first = Offer("tomas");
  const LoanId second = Offer("iva");
  SyncAll();
  Demand(SignLoan(house_.At("tomas"), first));
  Demand(SignLoan(house_.At("iva"), second));
  Demand(house_.Sync("tomas"));
  EXPECT_THAT(NotesAt("iva", Demand(house_.Sync("iva"))),
              ElementsAre(AllOf(HasSubstr("loan to-iva"), HasSubstr("broodpact find male"),
                                Not(HasSubstr("sign again")))));
}

TEST_F(SyncNotes, AdviseALenderWhoseMaleIsPromisedOnNothing) {
  const LoanId loan = Offer("tomas", "tomas");
  SyncAll();
  Demand(house_.Sync("mira"));
  Demand(SignLoan(house_.At("mira"), loan));
  Synced synced = Demand(house_.Sync("mira"));
  synced.changed = {{.arrival = synced.point.arrivals,
                     .before = {},
                     .after = {.kind = registry::VerdictKind::kSuperseded,
                               .reason = "ANIMAL_PROMISED",
                               .message = "promised before"}}};
  EXPECT_THAT(NotesAt("mira", synced), IsEmpty());
}

TEST_F(SyncNotes, AskForAnotherSignatureWhereWhatWasSignedCameLater) {
  const LoanId loan = Offer("tomas");
  SyncAll();
  Demand(SignLoan(house_.At("tomas"), loan));
  Synced synced = Demand(house_.Sync("tomas"));
  synced.changed = {{.arrival = synced.point.arrivals,
                     .before = {},
                     .after = {.kind = registry::VerdictKind::kRefused,
                               .reason = "UNKNOWN_SUBJECT",
                               .message = "no such loan"}}};
  EXPECT_THAT(NotesAt("tomas", synced),
              ElementsAre(HasSubstr("sign again: `broodpact loan accept ")));
}

}  // namespace
}  // namespace broodpact::replica
