// Goal: every subject answers to what is asked for, and to nothing else.
// Method: one subject at a time; the laws compare whole indexes with a scan (laws_test.cc).

#include "client/registry/index.h"

#include <algorithm>

#include "gtest/gtest.h"
#include "rapidcheck/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

// Whether `value` has an entry that begins with `prefix`.
template <typename Subject>
bool Answers(const Subject& value, const std::string& prefix) {
  const std::vector<std::string> entries = IndexEntriesOf(value);
  EXPECT_TRUE(std::is_sorted(entries.begin(), entries.end()));
  return std::any_of(entries.begin(), entries.end(), [&](const std::string& entry) {
    return entry.starts_with(prefix) && entry.size() >= prefix.size() + sizeof(IdBytes) &&
           IdOfEntry(entry) == value.id.bytes;
  });
}

const KeeperId kMira = Numbered<KeeperId>(1);
const KeeperId kTomas = Numbered<KeeperId>(2);
const KeeperId kBela = Numbered<KeeperId>(3);
const GroupId kGroup = Numbered<GroupId>(1);

Animal Male() {
  Animal male;
  male.id = Numbered<AnimalId>(1);
  male.group = kGroup;
  male.name = "Bh-M-07";
  male.owner = kMira;
  male.holder = kTomas;
  male.sex = facts::Sex::kMale;
  male.maturity = On("2026-03-01");
  male.sire = Numbered<AnimalId>(8);
  male.dam = Numbered<AnimalId>(9);
  return male;
}

TEST(Index, AnAnimalAnswersToNameGroupOwnerAndHolder) {
  const Animal male = Male();
  EXPECT_TRUE(Answers(male, NamePrefix(Kind::kAnimal, "bH-m-07")));
  EXPECT_FALSE(Answers(male, NamePrefix(Kind::kAnimal, "bh-m-0")));
  EXPECT_FALSE(Answers(male, NamePrefix(Kind::kClutch, "bh-m-07")));
  EXPECT_TRUE(Answers(male, OwnAnimalNamed(kMira, "bh-m-07")));
  EXPECT_FALSE(Answers(male, OwnAnimalNamed(kTomas, "bh-m-07")));
  EXPECT_TRUE(Answers(male, AnimalsOfGroup(kGroup)));
  EXPECT_TRUE(Answers(male, AnimalsOfOwner(kMira)));
  EXPECT_TRUE(Answers(male, AnimalsOfHolder(kTomas)));
  Animal home = male;
  home.holder = kMira;
  EXPECT_FALSE(Answers(home, AnimalsOfHolder(kMira))) << "where not the owner";
}

TEST(Index, OnlyLivingMatureMalesAndLivingFemalesAreListedAsSuch) {
  Animal animal = Male();
  EXPECT_TRUE(Answers(animal, MatureMalesOfGroup(kGroup)));
  EXPECT_FALSE(Answers(animal, FemalesOfGroup(kGroup)));
  animal.sex = facts::Sex::kFemale;
  EXPECT_FALSE(Answers(animal, MatureMalesOfGroup(kGroup)));
  EXPECT_TRUE(Answers(animal, FemalesOfGroup(kGroup)));
  animal.death = On("2026-05-01");
  EXPECT_FALSE(Answers(animal, FemalesOfGroup(kGroup)));
  EXPECT_FALSE(Answers(animal, OwnAnimalNamed(kMira, "bh-m-07"))) << "its name is free";
  EXPECT_TRUE(Answers(animal, AnimalsOfGroup(kGroup))) << "the dead too";
  animal = Male();
  animal.maturity.reset();
  EXPECT_FALSE(Answers(animal, MatureMalesOfGroup(kGroup)));
}

TEST(Index, MatureMalesComeOldestFirst) {
  std::vector<std::string> entries;
  std::uint32_t n = 10;
  for (const char* day : {"1999-12-31", "1969-12-31", "1970-01-01", "2026-03-01"}) {
    Animal male = Male();
    male.id = Numbered<AnimalId>(--n);
    male.maturity = On(day);
    for (std::string& entry : IndexEntriesOf(male)) {
      if (entry.starts_with(MatureMalesOfGroup(kGroup))) entries.push_back(std::move(entry));
    }
  }
  std::sort(entries.begin(), entries.end());
  ASSERT_EQ(entries.size(), 4U);
  EXPECT_EQ(IdOfEntry(entries[0]), Numbered<AnimalId>(8).bytes);
  EXPECT_EQ(IdOfEntry(entries[1]), Numbered<AnimalId>(7).bytes);
  EXPECT_EQ(IdOfEntry(entries[2]), Numbered<AnimalId>(9).bytes);
  EXPECT_EQ(IdOfEntry(entries[3]), Numbered<AnimalId>(6).bytes);
}

TEST(Index, LivesOfMalesAreReadOffTheEntriesAlone) {
  Animal male = Male();
  const auto lives_in = [&male](const std::string& prefix) {
    std::vector<MaleLife> lives;
    for (const std::string& entry : IndexEntriesOf(male)) {
      if (entry.starts_with(prefix)) lives.push_back(*MaleLifeOf(entry));
    }
    return lives;
  };
  male.maturity = On("2026-03-01/2026-03-05");
  male.entry.time_ms = std::int64_t{ParseDay("2026-04-01")->number} * 86'400'000;
  ASSERT_EQ(lives_in(MatureMalesOfGroup(kGroup)).size(), 1U);
  EXPECT_EQ(lives_in(MatureMalesOfGroup(kGroup))[0].maturity, *ParseDay("2026-03-03"));
  EXPECT_FALSE(lives_in(MatureMalesOfGroup(kGroup))[0].death.has_value());
  EXPECT_EQ(lives_in(MatureMalesOfGroup(kGroup))[0].entry, *ParseDay("2026-04-01"));

  male.death = On("2026-09-01");
  EXPECT_TRUE(lives_in(MatureMalesOfGroup(kGroup)).empty());
  ASSERT_EQ(lives_in(EndedMalesOfGroup(kGroup)).size(), 1U);
  EXPECT_EQ(lives_in(EndedMalesOfGroup(kGroup))[0].death, *ParseDay("2026-09-01"));
  EXPECT_EQ(lives_in(EndedMalesOfGroup(kGroup))[0].entry, *ParseDay("2026-04-01"));
  EXPECT_FALSE(MaleLifeOf(AnimalsOfGroup(kGroup)).has_value());
  EXPECT_FALSE(MaleLifeOf("").has_value());
}

TEST(Index, ALoanAnswersToItsPartiesWhileItMatters) {
  Loan loan{.id = Numbered<LoanId>(1), .name = "l1"};
  loan.parties = {kMira, kTomas};
  for (const LoanState state : {LoanState::kOffered, LoanState::kAskedFor, LoanState::kInForce}) {
    loan.state = state;
    EXPECT_TRUE(Answers(loan, LoansOfParty(kTomas)));
  }
  for (const LoanState state : {LoanState::kDeclined, LoanState::kSuperseded, LoanState::kClosed}) {
    loan.state = state;
    EXPECT_FALSE(Answers(loan, LoansOfParty(kTomas)));
  }
  EXPECT_TRUE(Answers(loan, NamePrefix(Kind::kLoan, "L1")));
}

TEST(Index, AnAmendmentThatIsOpenAnswersToWhoHasYetToSignIt) {
  Loan loan{.id = Numbered<LoanId>(1)};
  loan.parties = {kMira, kTomas};
  loan.versions.push_back({.parties = {kMira, kBela}, .signatures = {{.keeper = kMira}}});
  EXPECT_FALSE(Answers(loan, AmendmentsAwaiting(kMira)));
  EXPECT_TRUE(Answers(loan, AmendmentsAwaiting(kBela))) << "whom it would bring in";
  EXPECT_TRUE(Answers(loan, AmendmentsAwaiting(kTomas))) << "whom it would leave out";
  loan.versions.back().state = VersionState::kDeclined;
  EXPECT_FALSE(Answers(loan, AmendmentsAwaiting(kBela)));
}

TEST(Index, ALotAnswersToEverybodyConcernedWhileItHasSlings) {
  Lot lot{.id = Numbered<LotId>(1), .owner = kMira, .holder = kTomas, .receiver = kBela};
  lot.slings = 1;
  for (const KeeperId& keeper : {kMira, kTomas, kBela}) {
    EXPECT_TRUE(Answers(lot, LotsOfKeeper(keeper)));
  }
  lot.slings = 0;
  EXPECT_FALSE(Answers(lot, LotsOfKeeper(kMira)));
}

TEST(Index, AClashAnswersToItsPartiesWhileItIsOpen) {
  Clash clash{.id = Numbered<ClashId>(1)};
  clash.parties = {kMira};
  EXPECT_TRUE(Answers(clash, ClashesOfParty(kMira)));
  clash.state = ClashState::kSettled;
  EXPECT_FALSE(Answers(clash, ClashesOfParty(kMira)));
}

TEST(Index, AMaleThatIsNotMatureAnswersWithTheDayOfItsHatching) {
  Animal male{.id = Numbered<AnimalId>(1),
              .group = kGroup,
              .sex = facts::Sex::kMale,
              .hatching = On("2024-05-01")};
  const auto hatchings = [&] {
    std::vector<Day> days;
    for (const std::string& entry : IndexEntriesOf(male)) {
      if (const auto day = HatchingOf(entry)) days.push_back(*day);
    }
    return days;
  };
  EXPECT_TRUE(Answers(male, ImmatureMalesOfGroup(kGroup)));
  EXPECT_EQ(hatchings(), std::vector<Day>{On("2024-05-01").earliest});
  male.maturity = On("2026-04-01");
  EXPECT_FALSE(Answers(male, ImmatureMalesOfGroup(kGroup)));
  EXPECT_TRUE(hatchings().empty());
  male.maturity.reset();
  male.death = On("2026-04-01");
  EXPECT_FALSE(Answers(male, ImmatureMalesOfGroup(kGroup)));
}

TEST(Index, WishesAnswerWhileTheyStand) {
  Veto veto{.id = Numbered<VetoId>(1), .keeper = kMira};
  EXPECT_TRUE(Answers(veto, StandingVetoes()));
  veto.stance = facts::VetoStance::kLifted;
  EXPECT_FALSE(Answers(veto, StandingVetoes()));
  Want want{.id = Numbered<WantId>(1), .keeper = kMira, .group = kGroup};
  EXPECT_TRUE(Answers(want, WantsOfGroup(kGroup)));
  EXPECT_TRUE(Answers(want, WantsOfKeeper(kMira)));
  want.state = WantState::kEnded;
  EXPECT_FALSE(Answers(want, WantsOfGroup(kGroup)));
}

TEST(Index, SealedNotesAnswerToSubjectAuthorAndReadersWhileTheyStand) {
  const KeeperId tomas = Numbered<KeeperId>(7);
  SealedNote note{.id = Numbered<SealedNoteId>(1),
                  .subject = kGroup.bytes,
                  .keeper = kMira,
                  .readers = {tomas, kMira}};
  EXPECT_TRUE(Answers(note, SealedNotesAbout(kGroup.bytes)));
  EXPECT_TRUE(Answers(note, SealedNotesFor(kMira)));
  EXPECT_TRUE(Answers(note, SealedNotesFor(tomas)));
  EXPECT_EQ(IndexEntriesOf(note).size(), 3U);
  // A keeper's own come first.
  SealedNote of_tomas{.id = Numbered<SealedNoteId>(2), .subject = kGroup.bytes, .keeper = tomas};
  const std::vector<std::string> entries = IndexEntriesOf(of_tomas);
  const std::string own = *std::ranges::find_if(
      entries, [&](const std::string& entry) { return entry.starts_with(SealedNotesFor(tomas)); });
  for (const std::string& entry : IndexEntriesOf(note)) {
    EXPECT_TRUE(!entry.starts_with(SealedNotesFor(tomas)) || own < entry);
  }
  note.state = NoteState::kReplaced;
  EXPECT_TRUE(IndexEntriesOf(note).empty());
}

TEST(Index, KeepersGroupsAndNamedClutchesAnswerToTheirNames) {
  EXPECT_TRUE(Answers(Keeper{.id = kMira, .name = "Mira"}, NamePrefix(Kind::kKeeper, "mira")));
  EXPECT_TRUE(Answers(Group{.id = kGroup, .name = "g"}, NamePrefix(Kind::kGroup, "G")));
  EXPECT_TRUE(
      Answers(Clutch{.id = Numbered<ClutchId>(1), .name = "c"}, NamePrefix(Kind::kClutch, "c")));
  EXPECT_TRUE(IndexEntriesOf(Clutch{.id = Numbered<ClutchId>(1)}).empty()) << "no name";
}

// An animal from few values, so that two of them often differ in one member only.
Animal AnyAnimal() {
  Animal animal = Male();
  const auto flip = [] { return *rc::gen::inRange(0, 6) == 0; };
  if (flip()) animal.name = "other";
  if (flip()) animal.group = Numbered<GroupId>(2);
  if (flip()) animal.owner = kTomas;
  if (flip()) animal.holder = kBela;
  if (flip()) animal.sex = facts::Sex::kFemale;
  if (flip()) animal.maturity.reset();
  if (flip()) animal.maturity = On("2026-04-01");
  if (flip()) animal.death = On("2026-05-01");
  if (flip()) animal.hatching = On("2024-05-01");
  if (flip()) animal.sire = {};
  if (flip()) animal.dam = Numbered<AnimalId>(7);
  if (flip()) animal.moults.resize(1);
  return animal;
}

// What says "the same" without writing entries down must never be wrong; saying "not the same" of
// the same entries costs time only.
RC_GTEST_PROP(Index, AnimalsThatAreSaidToHaveTheSameEntriesHave, ()) {
  const Animal a = AnyAnimal();
  const Animal b = AnyAnimal();
  if (SameIndexEntries(a, b)) RC_ASSERT(IndexEntriesOf(a) == IndexEntriesOf(b));
  RC_ASSERT(SameIndexEntries(a, a));
}

RC_GTEST_PROP(Index, LotsThatAreSaidToHaveTheSameEntriesHave, ()) {
  const auto any = [] {
    Lot lot{.id = Numbered<LotId>(1), .owner = kMira, .holder = kMira};
    if (*rc::gen::inRange(0, 3) == 0) lot.owner = kTomas;
    if (*rc::gen::inRange(0, 3) == 0) lot.holder = kTomas;
    if (*rc::gen::inRange(0, 3) == 0) lot.receiver = kBela;
    lot.slings = *rc::gen::inRange<std::uint32_t>(0, 3);
    return lot;
  };
  const Lot a = any();
  const Lot b = any();
  if (SameIndexEntries(a, b)) RC_ASSERT(IndexEntriesOf(a) == IndexEntriesOf(b));
}

RC_GTEST_PROP(Index, LoansThatAreSaidToHaveTheSameEntriesHave, ()) {
  const auto any = [] {
    Loan loan{.id = Numbered<LoanId>(1)};
    loan.state = static_cast<LoanState>(*rc::gen::inRange(1, 7));
    if (*rc::gen::inRange(0, 3) == 0) loan.name = "l";
    loan.parties = {kMira};
    if (*rc::gen::inRange(0, 3) == 0) loan.parties = {kBela};
    if (*rc::gen::inRange(0, 3) == 0) loan.parties.push_back(kTomas);
    if (*rc::gen::inRange(0, 2) == 0) {
      LoanVersion& version = loan.versions.emplace_back();
      version.parties = {*rc::gen::element(kMira, kTomas)};
      version.state = *rc::gen::element(VersionState::kOpen, VersionState::kReplaced);
      if (*rc::gen::inRange(0, 2) == 0) version.signatures = {{.keeper = kMira}};
    }
    return loan;
  };
  const Loan a = any();
  const Loan b = any();
  if (SameIndexEntries(a, b)) RC_ASSERT(IndexEntriesOf(a) == IndexEntriesOf(b));
}

RC_GTEST_PROP(Index, ClutchesThatAreSaidToHaveTheSameEntriesHave, ()) {
  const auto any = [] {
    const auto flip = [] { return *rc::gen::element(true, false, false); };
    Clutch clutch{.id = Numbered<ClutchId>(1)};
    if (flip()) clutch.counts.resize(1);
    if (flip()) clutch.accounts.undivided = 3;
    clutch.parties = {{.party = kMira, .receiver = flip() ? kBela : kMira}};
    if (flip()) clutch.parties.push_back({.party = kTomas, .receiver = kTomas});
    if (flip()) clutch.offer = DueOffer{.receiver = flip() ? kBela : kTomas};
    return clutch;
  };
  const Clutch a = any();
  const Clutch b = any();
  if (SameIndexEntries(a, b)) RC_ASSERT(IndexEntriesOf(a) == IndexEntriesOf(b));
}

TEST(Index, TheIdOfAnEntryThatIsNoneIsEmpty) {
  EXPECT_EQ(IdOfEntry("n"), IdBytes{});
}

}  // namespace
}  // namespace broodpact::registry
