// Goal: a wish is its keeper's own, stands until it is taken back, and changes nothing else.
// Method: a male of mira's and a female of tomas'.

#include "gtest/gtest.h"

#include "client/registry/index.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

class Wishes : public testing::Test {
 protected:
  Wishes()
      : male_(world_.Enter(world_.mira, "m", facts::Sex::kMale)),
        female_(world_.Enter(world_.tomas, "f", facts::Sex::kFemale)) {}

  // Vetoes that stand, as the index has them.
  std::size_t Standing() { return world_.Flush().IndexEntries(StandingVetoes(), 100)->size(); }
  std::size_t Open() {
    return world_.Flush().IndexEntries(WantsOfGroup(world_.group), 100)->size();
  }

  facts::WantEntry Slings() {
    return {.want = world_.NewId<WantId>(),
            .group = world_.group,
            .kind = facts::WantKind::kSlings,
            .count = 10};
  }

  World world_;
  AnimalId male_;
  AnimalId female_;
};

TEST_F(Wishes, AVetoStandsUntilItsKeeperLiftsIt) {
  facts::PlanVeto veto{.animal = male_, .other_keeper = world_.tomas.id};
  EXPECT_EQ(world_.Say(world_.mira, {veto}), "counted");
  EXPECT_EQ(Standing(), 1U);
  EXPECT_EQ(world_.Say(world_.mira, {veto}), "counted");
  EXPECT_EQ(Standing(), 1U);
  veto.stance = facts::VetoStance::kLifted;
  EXPECT_EQ(world_.Say(world_.mira, {veto}), "counted");
  EXPECT_EQ(Standing(), 0U);
  veto.stance = facts::VetoStance::kStands;
  EXPECT_EQ(world_.Say(world_.mira, {veto}), "counted");
  EXPECT_EQ(Standing(), 1U);
}

TEST_F(Wishes, AVetoIsAboutAnAnimalThatItsAuthorKeeps) {
  EXPECT_EQ(world_.Say(world_.bela, {facts::PlanVeto{.animal = male_}}), "void NOT_YOUR_ANIMAL");
  EXPECT_EQ(world_.Say(world_.bela, {facts::PlanVeto{.other_animal = male_}}), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {facts::PlanVeto{.animal = Numbered<AnimalId>(9)}}),
            "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(world_.Say(world_.bela, {facts::PlanVeto{.other_keeper = Numbered<KeeperId>(9)}}),
            "refused UNKNOWN_SUBJECT");
}

TEST_F(Wishes, AVetoAgainstOneselfIsRefused) {
  EXPECT_EQ(world_.Say(world_.mira, {facts::PlanVeto{.other_keeper = world_.mira.id}}),
            "refused VETO_ITSELF");
  EXPECT_EQ(world_.Say(world_.mira, {facts::PlanVeto{.animal = male_, .other_animal = male_}}),
            "refused VETO_ITSELF");
}

TEST_F(Wishes, OnlyAVetoThatIsThereIsLifted) {
  EXPECT_EQ(world_.Say(world_.mira,
                       {facts::PlanVeto{.animal = male_, .stance = facts::VetoStance::kLifted}}),
            "refused NO_VETO");
}

TEST_F(Wishes, AWantIsOpenUntilItsKeeperEndsIt) {
  const facts::WantEntry want = Slings();
  EXPECT_EQ(world_.Say(world_.bela, {want}), "counted");
  EXPECT_EQ(Open(), 1U);
  EXPECT_EQ(world_.Say(world_.iva, {facts::WantEnd{.want = want.want}}), "void NOT_YOUR_WANT");
  EXPECT_EQ(world_.Say(world_.bela, {facts::WantEnd{.want = want.want}}), "counted");
  EXPECT_EQ(world_.Say(world_.bela, {facts::WantEnd{.want = want.want}}), "counted");
  EXPECT_EQ(Open(), 0U);
}

TEST_F(Wishes, AWantIsOfAGroupAndNew) {
  facts::WantEntry want = Slings();
  EXPECT_EQ(world_.Say(world_.bela, {want}), "counted");
  EXPECT_EQ(world_.Say(world_.iva, {want}), "refused ID_TAKEN");
  want.group = Numbered<GroupId>(9);
  EXPECT_EQ(world_.Say(world_.iva, {want}), "refused UNKNOWN_SUBJECT");
  EXPECT_EQ(world_.Say(world_.iva, {facts::WantEnd{.want = Numbered<WantId>(9)}}),
            "refused UNKNOWN_SUBJECT");
}

}  // namespace
}  // namespace broodpact::registry
