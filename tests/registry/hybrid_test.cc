// Goal: a pairing across groups marks all its descendants for ever, whatever came in first.
// Method: a cooperative in memory, with a line of three generations entered in several orders.

#include <algorithm>

#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Hybrids : public testing::Test {
 protected:
  Hybrids() : other_(world_.NewId<GroupId>()) {
    EXPECT_EQ(world_.Say(world_.mira,
                         {facts::GroupEntry{
                             .group = other_, .name = "vagans", .taxon = "Tliltocatl vagans"}}),
              "counted");
    female_ = Enter("f", world_.group, facts::Sex::kFemale);
    male_ = Enter("m", other_, facts::Sex::kMale);
  }

  AnimalId Enter(std::string name, const GroupId& group, facts::Sex sex, AnimalId sire = {},
                 AnimalId dam = {}) {
    const auto id = world_.NewId<AnimalId>();
    EXPECT_EQ(world_.Say(world_.mira, {facts::AnimalEntry{.animal = id,
                                                          .group = group,
                                                          .name = std::move(name),
                                                          .sex = sex,
                                                          .sire = sire,
                                                          .dam = dam}}),
              "counted");
    return id;
  }

  std::string Pair(const AnimalId& male, const AnimalId& female, std::string_view day,
                   bool intended = false,
                   facts::PairingOutcome outcome = facts::PairingOutcome::kInsertionSeen) {
    return world_.Say(world_.mira, {facts::Pairing{.pairing = world_.NewId<PairingId>(),
                                                   .male = male,
                                                   .female = female,
                                                   .day = On(day),
                                                   .outcome = outcome,
                                                   .hybrid_intended = intended}});
  }

  ClutchId Lay(const AnimalId& female, std::string_view day) {
    const auto id = world_.NewId<ClutchId>();
    EXPECT_EQ(
        world_.Say(world_.mira, {facts::SacLaying{.clutch = id, .female = female, .day = On(day)}}),
        "counted");
    return id;
  }

  // Counts a clutch, shares it out to mira and raises one sling.
  AnimalId Raise(const ClutchId& clutch, std::string name) {
    EXPECT_EQ(
        world_.Say(world_.mira,
                   {facts::Count{.clutch = clutch, .day = On("2026-05-20"), .slings_living = 5}}),
        "counted");
    const auto lot = world_.NewId<LotId>();
    EXPECT_EQ(world_.Say(world_.mira, {facts::SplitRecord{.clutch = clutch,
                                                          .count_token = world_.token(),
                                                          .shares = {{world_.mira.id, 5, lot}}}}),
              "counted");
    const auto animal = world_.NewId<AnimalId>();
    EXPECT_EQ(world_.Say(world_.mira, {facts::LotRaising{.lot = lot,
                                                         .animal = animal,
                                                         .name = std::move(name),
                                                         .day = On("2026-05-25")}}),
              "counted");
    return animal;
  }

  bool IsMarked(const AnimalId& animal) { return world_.animal(animal).hybrid; }
  bool IsMarked(const ClutchId& clutch) { return world_.state().Find<Clutch>(clutch)->hybrid; }

  World world_;
  GroupId other_;
  AnimalId female_;
  AnimalId male_;
};

TEST_F(Hybrids, APairingAcrossGroupsIsRecordedAndFlaggedUnlessItIsMeant) {
  EXPECT_EQ(Pair(male_, female_, "2026-04-01"), "counted FLAG_HYBRID");
  EXPECT_EQ(Pair(male_, female_, "2026-04-02", true), "counted");
  const AnimalId own = Enter("own", world_.group, facts::Sex::kMale);
  EXPECT_EQ(Pair(own, female_, "2026-04-03"), "counted");
  EXPECT_FALSE(IsMarked(female_));
  EXPECT_FALSE(IsMarked(male_));
}

TEST_F(Hybrids, MarkTheClutchWhatIsRaisedFromItAndAllThatFollows) {
  Pair(male_, female_, "2026-04-01", true);
  const ClutchId clutch = Lay(female_, "2026-05-01");
  EXPECT_TRUE(IsMarked(clutch));
  const AnimalId sling = Raise(clutch, "sling");
  EXPECT_TRUE(IsMarked(sling));
  const AnimalId grandchild = Enter("g", world_.group, facts::Sex::kUnknown, {}, sling);
  EXPECT_TRUE(IsMarked(grandchild));
}

TEST_F(Hybrids, AreMarkedToTheLastGenerationByAPairingThatIsEnteredLate) {
  const AnimalId own = Enter("own", world_.group, facts::Sex::kMale);
  Pair(own, female_, "2026-03-20");
  const ClutchId clutch = Lay(female_, "2026-05-01");
  const AnimalId daughter = Raise(clutch, "daughter");
  const ClutchId hers = Lay(daughter, "2026-05-28");
  const AnimalId grandchild = Enter("g", world_.group, facts::Sex::kMale, {}, daughter);
  const AnimalId mate = Enter("mate", world_.group, facts::Sex::kFemale);
  Pair(grandchild, mate, "2026-05-29");
  const ClutchId his = Lay(mate, "2026-05-30");
  EXPECT_FALSE(IsMarked(clutch) || IsMarked(daughter) || IsMarked(hers) || IsMarked(his));
  // Another male was with her too, of another group.
  Pair(male_, female_, "2026-04-01", true);
  EXPECT_TRUE(IsMarked(clutch));
  EXPECT_TRUE(IsMarked(daughter));
  EXPECT_TRUE(IsMarked(hers));
  EXPECT_TRUE(IsMarked(grandchild));
  EXPECT_TRUE(IsMarked(his));
  EXPECT_FALSE(IsMarked(mate));
  EXPECT_FALSE(IsMarked(own));
}

TEST_F(Hybrids, AreNotMadeByARefusalNorByAPairingAfterTheSac) {
  const ClutchId clutch = Lay(female_, "2026-04-15");
  Pair(male_, female_, "2026-05-01", true);
  Pair(male_, female_, "2026-04-01", true, facts::PairingOutcome::kRefused);
  EXPECT_FALSE(IsMarked(clutch));
}

TEST_F(Hybrids, AreKnownByParentsOfTwoGroups) {
  EXPECT_TRUE(IsMarked(Enter("child", world_.group, facts::Sex::kUnknown, male_, female_)));
  EXPECT_FALSE(IsMarked(Enter("half", world_.group, facts::Sex::kUnknown, {}, female_)));
}

TEST_F(Hybrids, StayMarkedWhenTheGroupsAreMerged) {
  const AnimalId child = Enter("child", world_.group, facts::Sex::kUnknown, male_, female_);
  EXPECT_EQ(
      world_.Say(world_.mira, {facts::GroupMove{.group = world_.group, .animals = {male_}},
                               facts::GroupClosure{.group = other_, .successor = world_.group}}),
      "counted");
  EXPECT_TRUE(IsMarked(child));
  EXPECT_FALSE(IsMarked(Enter("later", world_.group, facts::Sex::kUnknown, male_, female_)));
}

}  // namespace
}  // namespace broodpact::registry
