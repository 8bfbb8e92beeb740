// Goal: nobody enters but by founding or by an invite, and nobody states what its role forbids.
// Method: a cooperative in memory; real keys and signatures, because the invite's is what counts.

#include "fmt/core.h"
#include "gtest/gtest.h"

#include "client/device/key.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

device::SecretKey KeyOf(char seed) {
  return device::SecretKey::OfSeed(std::string(32, seed));
}

// A newcomer with an invite that mira made.
class Membership : public testing::Test {
 protected:
  Membership() : newcomer_(KeyOf('n')), invite_(KeyOf('i')) {
    vera_ = {.name = "vera",
             .id = Numbered<KeeperId>(9),
             .key = newcomer_.public_key(),
             .device = DeviceOf(newcomer_.public_key())};
  }

  std::string Invite(facts::Role role = facts::Role::kKeeper) {
    return world_.Say(world_.mira,
                      {facts::Invitation{.invite_key = invite_.public_key(), .role = role}});
  }

  facts::Joining Joining(const Member& member) const {
    return {.invite_key = invite_.public_key(),
            .keeper = member.id,
            .keeper_name = member.name,
            .device_key = member.key,
            .invite_signature =
                invite_.Sign(facts::JoiningMessage(world_.cooperative, member.id, member.key))};
  }

  facts::GroupEntry Group(std::string name) {
    return {.group = world_.NewId<GroupId>(), .name = std::move(name), .taxon = "Avicularia"};
  }

  World world_;
  device::SecretKey newcomer_;
  device::SecretKey invite_;
  Member vera_;
};

TEST_F(Membership, FoundingMakesTheFounderARegistrar) {
  const Keeper* mira = world_.state().Find<Keeper>(world_.mira.id);
  ASSERT_NE(mira, nullptr);
  EXPECT_EQ(mira->role, facts::Role::kRegistrar);
  EXPECT_EQ(mira->devices, std::vector<DeviceId>{world_.mira.device});
  EXPECT_EQ(world_.state().cooperative()->id, world_.history().front().commit.hash);
  EXPECT_EQ(world_.state().cooperative()->keepers, 4U);
}

TEST_F(Membership, RefusesASecondFounding) {
  const facts::Founding founding{
      .name = "other", .keeper = vera_.id, .keeper_name = "vera", .device_key = vera_.key};
  EXPECT_EQ(world_.Say(vera_, {founding}), "refused ALREADY_FOUNDED");
  EXPECT_EQ(world_.Say(world_.mira, {Group("a"), founding}), "refused ALREADY_FOUNDED");
}

TEST_F(Membership, FoundsOnlyFirstAloneAndByTheKeyThatIsStated) {
  const facts::Founding founding{
      .name = "brood", .keeper = vera_.id, .keeper_name = "vera", .device_key = vera_.key};
  const auto fold = [&](facts::Arrived arrived) {
    State state(EmptySource());
    return Short(Fold(state, arrived));
  };
  facts::Arrived arrived;
  arrived.commit.hash = Sha256("founding");
  arrived.commit.header.device = vera_.device;
  arrived.commit.statements = {founding};
  EXPECT_EQ(fold(arrived), "counted") << "provisional";
  arrived.arrival = 1;
  EXPECT_EQ(fold(arrived), "counted");
  facts::Arrived other = arrived;
  other.arrival = 2;
  EXPECT_EQ(fold(other), "refused FOUNDING_NOT_FIRST");
  other = arrived;
  other.commit.statements.push_back(Group("a"));
  EXPECT_EQ(fold(other), "refused FOUNDING_NOT_ALONE");
  other = arrived;
  other.commit.header.device = world_.mira.device;
  EXPECT_EQ(fold(other), "void DEVICE_KEY_OTHER");
  other = arrived;
  other.commit.header.cooperative = Sha256("another");
  EXPECT_EQ(fold(other), "void COOPERATIVE_OTHER");
  other = arrived;
  other.commit.statements = {Group("a")};
  EXPECT_EQ(fold(other), "refused NO_COOPERATIVE");
}

TEST_F(Membership, JoiningSpendsTheInviteAndEntersTheKeeperAndItsDevice) {
  ASSERT_EQ(Invite(facts::Role::kRegistrar), "counted");
  EXPECT_EQ(world_.Say(vera_, {Joining(vera_), Group("avicularia")}), "counted");
  const Keeper* vera = world_.state().Find<Keeper>(vera_.id);
  ASSERT_NE(vera, nullptr);
  EXPECT_EQ(vera->role, facts::Role::kRegistrar);
  EXPECT_EQ(world_.state().Find<Device>(vera_.device)->keeper, vera_.id);
  EXPECT_EQ(world_.state().Find<registry::Invite>(InviteOf(invite_.public_key()))->spent_by,
            vera_.device);
  EXPECT_EQ(world_.state().cooperative()->keepers, 5U);
}

TEST_F(Membership, ASpentInviteIsSupersededByTheJoiningThatSpentIt) {
  ASSERT_EQ(Invite(), "counted");
  ASSERT_EQ(world_.Say(vera_, {Joining(vera_)}), "counted");
  const std::uint64_t winner = world_.arrival();
  const device::SecretKey late_key = KeyOf('l');
  const Member late{.name = "lena",
                    .id = Numbered<KeeperId>(10),
                    .key = late_key.public_key(),
                    .device = DeviceOf(late_key.public_key())};
  EXPECT_EQ(world_.Say(late, {Joining(late)}), fmt::format("superseded INVITE_USED by {}", winner));
  EXPECT_EQ(world_.state().Find<Keeper>(late.id), nullptr);
}

TEST_F(Membership, AnInviteThatNobodyMadeLetsNobodyIn) {
  EXPECT_EQ(world_.Say(vera_, {Joining(vera_)}), "void INVITE_UNKNOWN");
}

TEST_F(Membership, AnInviteLetsInOnlyWhomItsSignatureNames) {
  ASSERT_EQ(Invite(), "counted");
  facts::Joining joining = Joining(vera_);
  joining.keeper = Numbered<KeeperId>(11);
  EXPECT_EQ(world_.Say(vera_, {joining}), "void INVITE_SIGNATURE_BAD");
}

TEST_F(Membership, ANewcomerStatesTheKeyOfTheDeviceThatWrites) {
  ASSERT_EQ(Invite(), "counted");
  EXPECT_EQ(world_.SayAs(vera_, {Joining(vera_)},
                         [&](facts::Arrived& arrived) {
                           arrived.commit.header.device = Numbered<DeviceId>(77);
                         }),
            "void DEVICE_KEY_OTHER");
}

TEST_F(Membership, RefusesAKeeperIdOrNameThatIsTaken) {
  ASSERT_EQ(Invite(), "counted");
  Member other = vera_;
  other.id = world_.tomas.id;
  EXPECT_EQ(world_.Say(vera_, {Joining(other)}), "refused ID_TAKEN");
  other = vera_;
  other.name = "ToMaS";
  EXPECT_EQ(world_.Say(vera_, {Joining(other)}), "refused NAME_TAKEN");
  EXPECT_EQ(world_.Say(vera_, {Joining(vera_)}), "counted");
}

TEST_F(Membership, RefusesAMemberWhoJoinsAgain) {
  ASSERT_EQ(Invite(), "counted");
  EXPECT_EQ(world_.Say(world_.tomas, {Joining(world_.tomas)}), "refused ALREADY_MEMBER");
  EXPECT_EQ(world_.Say(vera_, {Joining(vera_), Joining(vera_)}), "refused ALREADY_MEMBER");
}

TEST_F(Membership, AStrangerStatesNothing) {
  EXPECT_EQ(world_.Say(vera_, {Group("avicularia")}), "void DEVICE_UNKNOWN");
  ASSERT_EQ(Invite(), "counted");
  EXPECT_EQ(world_.Say(vera_, {Group("avicularia"), Joining(vera_)}), "void DEVICE_UNKNOWN");
}

TEST_F(Membership, AnObserverJoinsAndStatesNothing) {
  ASSERT_EQ(Invite(facts::Role::kObserver), "counted");
  EXPECT_EQ(world_.Say(vera_, {Joining(vera_), Group("a")}), "void OBSERVER");
  ASSERT_EQ(world_.Say(vera_, {Joining(vera_)}), "counted");
  EXPECT_EQ(world_.Say(vera_, {Group("a")}), "void OBSERVER");
}

TEST_F(Membership, OnlyARegistrarInvites) {
  EXPECT_EQ(world_.Say(world_.tomas, {facts::Invitation{.invite_key = invite_.public_key()}}),
            "void NOT_REGISTRAR");
  EXPECT_EQ(Invite(facts::Role::kUnspecified), "refused ROLE_MISSING");
  EXPECT_EQ(Invite(), "counted");
  EXPECT_EQ(Invite(), "refused ID_TAKEN");
}

}  // namespace
}  // namespace broodpact::registry
