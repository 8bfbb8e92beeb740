// Goal: nobody alone makes or removes a registrar where there are several, and a registrar who is
// lost can be removed all the same. Method: a cooperative in memory.

#include "client/registry/motion.h"

#include "fmt/core.h"
#include "gtest/gtest.h"

#include "tests/registry/society.h"

namespace broodpact::registry {
namespace {

class Motions : public testing::Test {
 protected:
  facts::RoleChange Change(const Member& keeper, facts::Role role) const {
    return {.keeper = keeper.id, .role = role};
  }
  facts::Role RoleOf(const Member& keeper) { return world_.state().Find<Keeper>(keeper.id)->role; }

  Society society_;
  World& world_ = society_.world;
};

TEST_F(Motions, ARegistrarChangesKeeperToObserverAndBack) {
  EXPECT_EQ(society_.Say(world_.bela, {Change(world_.tomas, facts::Role::kObserver)}),
            "void NOT_REGISTRAR");
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.tomas, facts::Role::kObserver)}), "counted");
  const std::uint64_t at = world_.arrival();
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.tomas, facts::Role::kObserver)}),
            fmt::format("superseded ROLE_SAME by {}", at));
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.tomas, facts::Role::kKeeper)}), "counted");
}

TEST_F(Motions, TheOnlyRegistrarMakesAnotherOne) {
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.tomas, facts::Role::kRegistrar)}), "counted");
  EXPECT_EQ(RoleOf(world_.tomas), facts::Role::kRegistrar);
}

TEST_F(Motions, MoreThanHalfOfSeveralRegistrarsMakeAnotherOne) {
  society_.Promote(world_.tomas);
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.bela, facts::Role::kRegistrar)}),
            "counted FLAG_MOTION_OPEN");
  const MotionId motion = society_.MotionOf(world_.bela.id.bytes);
  EXPECT_EQ(RoleOf(world_.bela), facts::Role::kKeeper);
  EXPECT_EQ(society_.Say(world_.iva, {facts::MotionSignature{.motion = motion}}),
            "void NOT_REGISTRAR");
  EXPECT_EQ(society_.Say(world_.mira, {facts::MotionSignature{.motion = motion}}),
            "counted FLAG_MOTION_OPEN")
      << "signing twice is one signature";
  EXPECT_EQ(society_.Say(world_.tomas, {facts::MotionSignature{.motion = motion}}), "counted");
  EXPECT_EQ(RoleOf(world_.bela), facts::Role::kRegistrar);
}

TEST_F(Motions, WhereThereAreSeveralRegistrarsNoneIsInvited) {
  society_.Promote(world_.tomas);
  EXPECT_EQ(society_.Say(world_.mira, {facts::Invitation{.invite_key = SeededKey('i').public_key(),
                                                         .role = facts::Role::kRegistrar}}),
            "refused REGISTRAR_BY_COSIGNING");
}

TEST_F(Motions, ARegistrarIsRemovedByMoreThanHalfOfThem) {
  society_.Promote(world_.tomas);
  society_.Promote(world_.bela);
  EXPECT_EQ(society_.Say(world_.tomas, {Change(world_.mira, facts::Role::kKeeper)}),
            "counted FLAG_MOTION_OPEN");
  const MotionId motion = society_.MotionOf(world_.mira.id.bytes);
  EXPECT_EQ(society_.Say(world_.mira, {facts::MotionSignature{.motion = motion}}), "void NO_VOTE");
  EXPECT_EQ(society_.Say(world_.bela, {facts::MotionSignature{.motion = motion}}), "counted");
  const std::uint64_t at = world_.arrival();
  EXPECT_EQ(RoleOf(world_.mira), facts::Role::kKeeper);
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.iva, facts::Role::kObserver)}),
            "void NOT_REGISTRAR");
  EXPECT_EQ(society_.Say(world_.bela, {facts::MotionSignature{.motion = motion}}),
            fmt::format("superseded MOTION_CARRIED by {}", at));
}

TEST_F(Motions, ADeviceOfARegistrarIsRevokedByItsKeeperOrAsAMotion) {
  society_.Promote(world_.tomas);
  society_.Promote(world_.bela);
  ASSERT_EQ(society_.Say(world_.mira, {society_.Group("a")}), "counted");
  EXPECT_EQ(society_.Say(world_.tomas, {society_.CutOf(world_.mira)}), "counted FLAG_MOTION_OPEN");
  const MotionId motion = society_.MotionOf(world_.mira.device.bytes);
  EXPECT_EQ(society_.Say(world_.mira, {society_.Group("b")}), "counted");
  ASSERT_EQ(society_.Say(world_.bela, {facts::MotionSignature{.motion = motion}}), "counted");
  const std::uint64_t at = world_.arrival();
  EXPECT_EQ(society_.Say(world_.mira, {society_.Group("c")}),
            fmt::format("void DEVICE_REVOKED by {}", at));
  const Member field = society_.Admit(world_.tomas, 'f');
  EXPECT_EQ(society_.Say(world_.tomas, {society_.CutOf(field)}), "counted");
}

TEST_F(Motions, ALostOnlyRegistrarIsCosignedAwayByKeepersAndAnotherOneIn) {
  const facts::RoleChange away = Change(world_.mira, facts::Role::kKeeper);
  EXPECT_EQ(society_.Say(world_.tomas, {away}), "counted FLAG_MOTION_OPEN");
  const MotionId motion = society_.MotionOf(world_.mira.id.bytes);
  EXPECT_EQ(society_.Say(world_.bela, {facts::MotionSignature{.motion = motion}}),
            "counted FLAG_MOTION_OPEN");
  EXPECT_EQ(society_.Say(world_.iva, {facts::MotionSignature{.motion = motion}}), "counted");
  EXPECT_EQ(RoleOf(world_.mira), facts::Role::kKeeper);
  EXPECT_EQ(world_.state().cooperative()->registrars, 0U);
  society_.Promote(world_.iva);
  EXPECT_EQ(world_.state().cooperative()->registrars, 1U);
}

TEST_F(Motions, ASignatureOfWhoHasNoVoteAnyMoreDoesNotCount) {
  society_.Promote(world_.tomas);
  society_.Promote(world_.bela);
  society_.Promote(world_.iva);
  ASSERT_EQ(society_.Say(world_.tomas, {Change(world_.mira, facts::Role::kKeeper)}),
            "counted FLAG_MOTION_OPEN");
  const MotionId motion = society_.MotionOf(world_.mira.id.bytes);
  ASSERT_EQ(society_.Say(world_.tomas, {Change(world_.tomas, facts::Role::kKeeper)}), "counted");
  EXPECT_EQ(society_.Say(world_.bela, {facts::MotionSignature{.motion = motion}}),
            "counted FLAG_MOTION_OPEN");
  EXPECT_EQ(society_.Say(world_.iva, {facts::MotionSignature{.motion = motion}}), "counted");
}

TEST_F(Motions, ARegistrarStepsDownWhileAnotherOneIsLeft) {
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.mira, facts::Role::kKeeper)}),
            "refused LAST_REGISTRAR");
  society_.Promote(world_.tomas);
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.mira, facts::Role::kKeeper)}), "counted");
}

TEST_F(Motions, NobodyMakesHimselfARegistrarsDevice) {
  society_.Promote(world_.tomas);
  ASSERT_EQ(society_.Say(world_.tomas, {society_.Group("a")}), "counted");
  ASSERT_EQ(society_.Say(world_.tomas, {society_.CutOf(world_.tomas)}), "counted");
  EXPECT_EQ(society_.Say(world_.mira, {society_.InvitationOf(world_.tomas, 'x')}),
            "refused REGISTRAR_BY_COSIGNING");
}

TEST_F(Motions, OneCommitMovesAThingOnce) {
  society_.Promote(world_.tomas);
  const facts::RoleChange change = Change(world_.bela, facts::Role::kRegistrar);
  EXPECT_EQ(society_.Say(world_.mira, {change, change}), "refused ID_TAKEN");
}

TEST_F(Motions, AKeeperWhoLeftIsGivenNoRole) {
  ASSERT_EQ(society_.Say(world_.tomas, {facts::Leaving{}}), "counted");
  EXPECT_EQ(society_.Say(world_.mira, {Change(world_.tomas, facts::Role::kObserver)}),
            "refused KEEPER_LEFT");
}

TEST(Electorate, IsOfRegistrarsWhereThoseApartFromTheOneItIsAboutAreEnough) {
  EXPECT_EQ(ElectorateFor({.registrars = 3, .voters = 9, .about_registrar = true}).needed, 2U);
  EXPECT_TRUE(ElectorateFor({.registrars = 3, .voters = 9, .about_registrar = true}).of_registrars);
  EXPECT_EQ(ElectorateFor({.registrars = 5, .voters = 9, .about_registrar = true}).needed, 3U);
  EXPECT_FALSE(
      ElectorateFor({.registrars = 2, .voters = 9, .about_registrar = true}).of_registrars);
  EXPECT_EQ(ElectorateFor({.registrars = 2, .voters = 9, .about_registrar = true}).needed, 5U);
  EXPECT_TRUE(
      ElectorateFor({.registrars = 2, .voters = 9, .about_registrar = false}).of_registrars);
  EXPECT_EQ(ElectorateFor({.registrars = 2, .voters = 9, .about_registrar = false}).needed, 2U);
  EXPECT_FALSE(
      ElectorateFor({.registrars = 0, .voters = 4, .about_registrar = false}).of_registrars);
}

// The invitation was made while there was one registrar, and is spent when there are two.
TEST_F(Motions, WhoWasInvitedAsARegistrarBeforeThereWereSeveralEntersAsAKeeper) {
  const device::SecretKey invite = SeededKey('i');
  ASSERT_EQ(society_.Say(world_.mira, {facts::Invitation{.invite_key = invite.public_key(),
                                                         .role = facts::Role::kRegistrar}}),
            "counted");
  society_.Promote(world_.tomas);
  const PublicKey key = SeededKey('v').public_key();
  const Member vera{
      .name = "vera", .id = Numbered<KeeperId>(9), .key = key, .device = DeviceOf(key)};
  EXPECT_EQ(
      society_.Say(vera, {facts::Joining{.invite_key = invite.public_key(),
                                         .keeper = vera.id,
                                         .keeper_name = vera.name,
                                         .device_key = key,
                                         .invite_signature = invite.Sign(facts::JoiningMessage(
                                             world_.cooperative, vera.id, key))}}),
      "counted FLAG_REGISTRAR_BY_COSIGNING");
  EXPECT_EQ(RoleOf(vera), facts::Role::kKeeper);
  EXPECT_EQ(world_.state().cooperative()->registrars, 2U);
}

TEST_F(Motions, NoOldInvitationLetsADeviceOfARegistrarIn) {
  ASSERT_EQ(society_.Say(world_.tomas, {society_.Group("a")}), "counted");
  ASSERT_EQ(society_.Say(world_.mira, {society_.CutOf(world_.tomas)}), "counted");
  ASSERT_EQ(society_.Say(world_.mira, {society_.InvitationOf(world_.tomas, 'x')}), "counted");
  society_.Promote(world_.tomas);
  ASSERT_EQ(RoleOf(world_.tomas), facts::Role::kRegistrar);
  const Member another = Society::DeviceOfKeeper(world_.tomas, 'n');
  EXPECT_EQ(society_.Say(another, {society_.JoiningOf(another, 'x')}), "void INVITE_WITHDRAWN");
}

}  // namespace
}  // namespace broodpact::registry
