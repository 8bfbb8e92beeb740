// Goal: names move and animals stay; groups are split and merged by registrars, with history.
// Method: a cooperative in memory; mira is its registrar.

#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Groups : public testing::Test {
 protected:
  std::string Name(const Member& by, std::string name, facts::NameStatus status) {
    return world_.Say(by, {facts::NameUse{.group = world_.group,
                                          .name = std::move(name),
                                          .status = status,
                                          .since = On("2019"),
                                          .source = "a list"}});
  }

  GroupId Add(std::string name) {
    const auto id = world_.NewId<GroupId>();
    EXPECT_EQ(world_.Say(world_.mira,
                         {facts::GroupEntry{
                             .group = id, .name = std::move(name), .taxon = "Tliltocatl hamorii"}}),
              "counted");
    return id;
  }

  std::string Move(const Member& by, const GroupId& to, std::vector<AnimalId> animals) {
    return world_.Say(
        by, {facts::GroupMove{.group = to, .animals = std::move(animals), .reason = "split"}});
  }

  std::string Close(const Member& by, const GroupId& group, const GroupId& successor) {
    return world_.Say(by, {facts::GroupClosure{.group = group, .successor = successor}});
  }

  const Group& TheGroup() { return *world_.state().Find<Group>(world_.group); }

  World world_;
};

TEST_F(Groups, OnlyAnAcceptedNameRenamesAndOnlyARegistrarAcceptsOne) {
  using facts::NameStatus;
  EXPECT_EQ(Name(world_.tomas, "Brachypelma smithi", NameStatus::kMisapplied), "counted");
  EXPECT_EQ(Name(world_.tomas, "red knee", NameStatus::kTradeName), "counted");
  EXPECT_EQ(Name(world_.tomas, "B. x", NameStatus::kSynonym), "counted");
  EXPECT_EQ(Name(world_.mira, "Brachypelma hamorii", NameStatus::kNewCombination), "counted");
  EXPECT_EQ(TheGroup().taxon, "Tliltocatl hamorii");
  EXPECT_EQ(Name(world_.tomas, "Brachypelma hamorii", NameStatus::kAccepted), "void NOT_REGISTRAR");
  EXPECT_EQ(Name(world_.mira, "Brachypelma hamorii", NameStatus::kAccepted), "counted");
  EXPECT_EQ(TheGroup().taxon, "Brachypelma hamorii");
  EXPECT_EQ(TheGroup().name, "hamorii-colima");
  EXPECT_EQ(Name(world_.tomas, "Brachypelma smithi", NameStatus::kMisapplied), "counted");
  EXPECT_EQ(TheGroup().taxon, "Brachypelma hamorii");
  // The name that it was entered by is the first of all.
  ASSERT_EQ(TheGroup().names.size(), 7U);
  EXPECT_EQ(TheGroup().names[0].name, "Tliltocatl hamorii");
  EXPECT_EQ(TheGroup().names[1].entry.keeper, world_.tomas.id);
}

TEST_F(Groups, RefusesANameOfAnUnknownGroup) {
  EXPECT_EQ(world_.Say(world_.mira, {facts::NameUse{.group = Numbered<GroupId>(99),
                                                    .name = "x",
                                                    .status = facts::NameStatus::kSynonym}}),
            "refused UNKNOWN_SUBJECT");
}

TEST_F(Groups, AnimalsAreMovedByARegistrarAndRememberWhereTheyWere) {
  const AnimalId one = world_.Enter(world_.tomas, "one");
  const AnimalId other = world_.Enter(world_.tomas, "other");
  const GroupId split = Add("hamorii-jalisco");
  EXPECT_EQ(Move(world_.tomas, split, {one}), "void NOT_REGISTRAR");
  EXPECT_EQ(Move(world_.mira, split, {one, Numbered<AnimalId>(77)}), "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(Move(world_.mira, split, {one, one}), "counted");
  EXPECT_EQ(world_.animal(one).group, split);
  ASSERT_EQ(world_.animal(one).past_groups.size(), 1U);
  EXPECT_EQ(world_.animal(one).past_groups[0].group, world_.group);
  EXPECT_EQ(world_.animal(one).owner, world_.tomas.id);
  EXPECT_EQ(world_.animal(other).group, world_.group);
}

TEST_F(Groups, AMergedGroupGoesOnAsItsSuccessor) {
  const GroupId other = Add("hamorii-jalisco");
  EXPECT_EQ(Close(world_.tomas, other, world_.group), "void NOT_REGISTRAR");
  EXPECT_EQ(Close(world_.mira, other, other), "refused SUCCESSOR_ITSELF");
  EXPECT_EQ(Close(world_.mira, other, world_.group), "counted");
  EXPECT_EQ(Close(world_.mira, other, world_.group), "refused GROUP_CLOSED");
  EXPECT_EQ(Close(world_.mira, world_.group, other), "refused GROUP_CLOSED");
  EXPECT_EQ(Move(world_.mira, other, {world_.Enter(world_.mira, "a")}), "refused GROUP_CLOSED");

  // What a keeper entered before the news reached him is in the successor.
  const auto animal = world_.NewId<AnimalId>();
  EXPECT_EQ(world_.Say(world_.bela,
                       {facts::AnimalEntry{.animal = animal, .group = other, .name = "late"}}),
            "counted FLAG_GROUP_CLOSED");
  EXPECT_EQ(world_.animal(animal).group, world_.group);

  // A successor may be merged in its turn.
  const GroupId last = Add("hamorii");
  EXPECT_EQ(Close(world_.mira, world_.group, last), "counted");
  const auto later = world_.NewId<AnimalId>();
  EXPECT_EQ(world_.Say(world_.bela,
                       {facts::AnimalEntry{.animal = later, .group = other, .name = "later"}}),
            "counted FLAG_GROUP_CLOSED");
  EXPECT_EQ(world_.animal(later).group, last);
}

TEST_F(Groups, TheLatestStatementOfARegistrarSaysHowCloseFoundersAreTaken) {
  const auto say = [&](const Member& by, const GroupId& group, std::uint32_t numerator) {
    return world_.Say(
        by, {facts::FounderKinship{
                .group = group, .numerator = numerator, .denominator = 8, .reason = "one import"}});
  };
  EXPECT_EQ(say(world_.tomas, world_.group, 1), "void NOT_REGISTRAR");
  EXPECT_EQ(say(world_.mira, Numbered<GroupId>(99), 1), "refused UNKNOWN_SUBJECT");
  EXPECT_TRUE(TheGroup().founder_kinships.empty());
  EXPECT_EQ(say(world_.mira, world_.group, 1), "counted");
  EXPECT_EQ(say(world_.mira, world_.group, 2), "counted");
  ASSERT_EQ(TheGroup().founder_kinships.size(), 2U);
  EXPECT_EQ(TheGroup().founder_kinships.back().numerator, 2U);
  EXPECT_EQ(TheGroup().founder_kinships.back().denominator, 8U);
  EXPECT_EQ(TheGroup().founder_kinships.back().entry.keeper, world_.mira.id);
  const GroupId other = Add("hamorii-jalisco");
  EXPECT_EQ(Close(world_.mira, other, world_.group), "counted");
  EXPECT_EQ(say(world_.mira, other, 1), "refused GROUP_CLOSED");
}

}  // namespace
}  // namespace broodpact::registry
