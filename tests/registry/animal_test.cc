// Goal: what may be entered about groups and animals, by whom, and what is flagged.
// Method: a cooperative in memory. It is 2026-06-01 there.

#include "gtest/gtest.h"

#include "client/registry/index.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Animals : public testing::Test {
 protected:
  facts::AnimalEntry Entry(std::string name) {
    return {.animal = world_.NewId<AnimalId>(), .group = world_.group, .name = std::move(name)};
  }
  std::string Die(const Member& member, const AnimalId& animal, std::string_view day) {
    return world_.Say(member, {facts::Death{.animal = animal, .day = On(day), .cause = "age"}});
  }
  std::string Moult(const Member& member, const AnimalId& animal, std::string_view day) {
    return world_.Say(member, {facts::Moult{.animal = animal, .day = On(day)}});
  }
  std::string Claim(const Member& member, const AnimalId& animal, facts::Sex sex) {
    return world_.Say(member, {facts::SexClaim{.animal = animal,
                                               .sex = sex,
                                               .method = facts::SexMethod::kShedSkin,
                                               .day = On("2026-05-02")}});
  }

  World world_;
};

TEST_F(Animals, AGroupNameIsTakenWhateverItsCase) {
  const auto group = [&](std::string name) {
    return facts::GroupEntry{
        .group = world_.NewId<GroupId>(), .name = std::move(name), .taxon = "Tliltocatl hamorii"};
  };
  EXPECT_EQ(world_.Say(world_.tomas, {group("Hamorii-COLIMA")}), "refused NAME_TAKEN");
  EXPECT_EQ(world_.Say(world_.tomas, {group("hamorii")}), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {group("a"), group("A")}), "refused NAME_TAKEN")
      << "by an earlier statement of the same commit";
  EXPECT_EQ(world_.state().cooperative()->groups, 2U);
}

TEST_F(Animals, RefusesAGroupOrAnimalIdThatIsTaken) {
  const AnimalId animal = world_.Enter(world_.mira, "m1");
  facts::AnimalEntry again = Entry("m2");
  again.animal = animal;
  EXPECT_EQ(world_.Say(world_.mira, {again}), "refused ID_TAKEN");
  EXPECT_EQ(world_.Say(world_.mira, {facts::GroupEntry{.group = world_.group, .name = "b"}}),
            "refused ID_TAKEN");
}

TEST_F(Animals, EnteringMakesTheAuthorOwnerAndHolder) {
  const AnimalId id = world_.Enter(world_.tomas, "t1", facts::Sex::kMale);
  const Animal animal = world_.animal(id);
  EXPECT_EQ(animal.owner, world_.tomas.id);
  EXPECT_EQ(animal.holder, world_.tomas.id);
  EXPECT_EQ(animal.sex, facts::Sex::kMale);
  EXPECT_EQ(animal.sex_claims.size(), 1U);
  EXPECT_EQ(world_.state().cooperative()->animals, 1U);
}

TEST_F(Animals, RefusesAnAnimalOfAnUnknownGroup) {
  facts::AnimalEntry entry = Entry("m1");
  entry.group = Numbered<GroupId>(99);
  EXPECT_EQ(world_.Say(world_.mira, {entry}), "refused UNKNOWN_SUBJECT");
}

TEST_F(Animals, AnAnimalNameIsTakenAmongTheLivingOfOneOwner) {
  const AnimalId first = world_.Enter(world_.mira, "Rosa");
  EXPECT_EQ(world_.Say(world_.mira, {Entry("rosa")}), "refused NAME_TAKEN");
  EXPECT_EQ(world_.Say(world_.tomas, {Entry("rosa")}), "counted") << "another owner's";
  ASSERT_EQ(Die(world_.mira, first, "2026-05-30"), "counted");
  EXPECT_EQ(world_.Say(world_.mira, {Entry("rosa")}), "counted") << "the first is dead";
}

TEST_F(Animals, ANameOfADroppedCommitIsFree) {
  EXPECT_EQ(world_.Say(world_.mira, {Entry("rosa"), Entry("rosa")}), "refused NAME_TAKEN");
  EXPECT_EQ(world_.Say(world_.mira, {Entry("rosa")}), "counted");
}

TEST_F(Animals, ParentsExistAndAreOfASexThatMayBe) {
  const AnimalId male = world_.Enter(world_.mira, "m", facts::Sex::kMale);
  const AnimalId female = world_.Enter(world_.tomas, "f", facts::Sex::kFemale);
  const auto with = [&](const AnimalId& sire, const AnimalId& dam) {
    facts::AnimalEntry entry = Entry("child");
    entry.sire = sire;
    entry.dam = dam;
    return entry;
  };
  EXPECT_EQ(world_.Say(world_.mira, {with(Numbered<AnimalId>(99), {})}), "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(world_.Say(world_.mira, {with({}, Numbered<AnimalId>(99))}), "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(world_.Say(world_.mira, {with(female, {})}), "refused PARENT_SEX");
  EXPECT_EQ(world_.Say(world_.mira, {with({}, male)}), "refused PARENT_SEX");
  facts::AnimalEntry itself = Entry("child");
  itself.dam = itself.animal;
  EXPECT_EQ(world_.Say(world_.mira, {itself}), "refused PARENT_ITSELF");
  const AnimalId unsexed = world_.Enter(world_.iva, "u");
  EXPECT_EQ(world_.Say(world_.mira, {with(unsexed, unsexed)}), "refused PARENT_SEX");
  EXPECT_EQ(world_.Say(world_.mira, {with(male, female)}), "counted");
}

TEST_F(Animals, OnlyOwnerOrHolderStateWhatHappenedToIt) {
  const AnimalId id = world_.Enter(world_.mira, "m", facts::Sex::kMale);
  const LoanId loan = world_.Lend(world_.mira, world_.tomas, id);
  EXPECT_EQ(Moult(world_.tomas, id, "2026-05-01"), "void NOT_YOUR_ANIMAL") << "not held yet";
  ASSERT_EQ(world_.Say(world_.tomas, {facts::Receipt{.loan = loan, .day = On("2026-05-30")}}),
            "counted");
  EXPECT_EQ(Moult(world_.tomas, id, "2026-05-01"), "counted") << "the holder";
  EXPECT_EQ(Moult(world_.mira, id, "2026-05-01"), "counted") << "the owner";
  EXPECT_EQ(Moult(world_.bela, id, "2026-05-01"), "void NOT_YOUR_ANIMAL");
  EXPECT_EQ(Claim(world_.bela, id, facts::Sex::kMale), "void NOT_YOUR_ANIMAL");
  EXPECT_EQ(Die(world_.bela, id, "2026-05-01"), "void NOT_YOUR_ANIMAL");
  EXPECT_EQ(world_.Say(world_.bela, {facts::Maturity{.animal = id, .day = On("2026-05-01")}}),
            "void NOT_YOUR_ANIMAL");
  EXPECT_EQ(Moult(world_.mira, Numbered<AnimalId>(99), "2026-05-01"), "refused UNKNOWN_SUBJECT");
}

TEST_F(Animals, AFactOfTheFutureIsRecordedAndFlagged) {
  const AnimalId id = world_.Enter(world_.mira, "m");
  EXPECT_EQ(Moult(world_.mira, id, "2026-06-02"), "counted") << "a day for time zones";
  EXPECT_EQ(Moult(world_.mira, id, "2026-06-03"), "counted FLAG_FUTURE_DAY");
  EXPECT_EQ(Moult(world_.mira, id, "2026"), "counted") << "may have been already";
  EXPECT_EQ(world_.animal(id).moults.size(), 3U);
}

TEST_F(Animals, AMoultAfterDeathIsRecordedAndFlagged) {
  const AnimalId id = world_.Enter(world_.mira, "m");
  ASSERT_EQ(Die(world_.mira, id, "2026-05-10"), "counted");
  EXPECT_EQ(Moult(world_.mira, id, "2026-05-10"), "counted");
  EXPECT_EQ(Moult(world_.mira, id, "2026-05-11"), "counted FLAG_AFTER_DEATH");
}

TEST_F(Animals, AMatureMaleThatMoultsIsFlagged) {
  const AnimalId id = world_.Enter(world_.mira, "m", facts::Sex::kMale);
  EXPECT_EQ(Moult(world_.mira, id, "2026-04-01"), "counted");
  ASSERT_EQ(world_.Say(world_.mira, {facts::Maturity{.animal = id, .day = On("2026-04-10")}}),
            "counted");
  EXPECT_EQ(Moult(world_.mira, id, "2026-04-10"), "counted") << "the ultimate one itself";
  EXPECT_EQ(Moult(world_.mira, id, "2026-05-01"), "counted FLAG_MALE_MOULT");
}

TEST_F(Animals, AFemaleMayBeMatureAndMoultOn) {
  const AnimalId id = world_.Enter(world_.mira, "f", facts::Sex::kFemale);
  EXPECT_EQ(world_.Say(world_.mira, {facts::Maturity{.animal = id, .day = On("2026-04-10")}}),
            "counted");
  EXPECT_EQ(Moult(world_.mira, id, "2026-05-01"), "counted");
}

TEST_F(Animals, ALaterMaturityReplacesTheFirstAndIsFlagged) {
  const AnimalId id = world_.Enter(world_.mira, "m", facts::Sex::kMale);
  const auto mature = [&](std::string_view day) {
    return world_.Say(world_.mira, {facts::Maturity{.animal = id, .day = On(day)}});
  };
  EXPECT_EQ(mature("2026-04-10"), "counted");
  EXPECT_EQ(mature("2026-04-10"), "counted");
  EXPECT_EQ(mature("2026-04-12"), "counted FLAG_MATURITY_CHANGED");
  EXPECT_EQ(world_.animal(id).maturity, On("2026-04-12"));
}

TEST_F(Animals, TheLatestClaimOfSexStandsAndAReversalIsFlagged) {
  const AnimalId id = world_.Enter(world_.mira, "u");
  EXPECT_EQ(Claim(world_.mira, id, facts::Sex::kFemale), "counted");
  EXPECT_EQ(Claim(world_.mira, id, facts::Sex::kFemale), "counted");
  EXPECT_EQ(Claim(world_.mira, id, facts::Sex::kMale), "counted FLAG_SEX_REVERSED");
  EXPECT_EQ(world_.animal(id).sex, facts::Sex::kMale);
  EXPECT_EQ(world_.animal(id).sex_claims.size(), 3U);
}

TEST_F(Animals, ASecondDeathIsFlaggedAndTheFirstEntryStands) {
  const AnimalId id = world_.Enter(world_.mira, "m");
  EXPECT_EQ(Die(world_.mira, id, "2026-05-10"), "counted");
  EXPECT_EQ(Die(world_.mira, id, "2026-05-12"), "counted FLAG_ALREADY_DEAD");
  EXPECT_EQ(world_.animal(id).death, On("2026-05-10"));
}

TEST_F(Animals, AListOfRecordsHasAnEnd) {
  const AnimalId id = world_.Enter(world_.mira, "m");
  Animal& animal = world_.state().Edit<Animal>(id);
  animal.moults.resize(kRecordsMax - 1);
  world_.state().KeepDraft();
  EXPECT_EQ(Moult(world_.mira, id, "2026-05-01"), "counted");
  EXPECT_EQ(Moult(world_.mira, id, "2026-05-01"), "refused TOO_MANY_RECORDS");
}

TEST_F(Animals, OthersLeaveRoomInItsListsForItsKeepers) {
  const AnimalId dam = world_.Enter(world_.mira, "rosa", facts::Sex::kFemale);
  world_.state().Edit<Animal>(dam).offspring.resize(kRecordsMax / 4);
  world_.state().KeepDraft();
  const auto enter = [&](const Member& by, std::string name) {
    return world_.Say(by, {facts::AnimalEntry{.animal = world_.NewId<AnimalId>(),
                                              .group = world_.group,
                                              .name = std::move(name),
                                              .dam = dam}});
  };
  EXPECT_EQ(enter(world_.bela, "b"), "refused TOO_MANY_RECORDS");
  EXPECT_EQ(enter(world_.mira, "m"), "counted");
}

TEST_F(Animals, AMessageNamesTheKeepersAndTheAnimal) {
  const AnimalId id = world_.Enter(world_.mira, "rosa");
  Moult(world_.bela, id, "2026-05-01");
  EXPECT_EQ(world_.verdict().message,
            "rosa is owned by mira and held by mira; one of them has to state this");
}

}  // namespace
}  // namespace broodpact::registry
