// Goal: a keeper's devices all act for it, one at a time is cut off for good, and nothing that a
// device writes past its cut changes anything but by adoption.
// Method: a cooperative in memory with real keys; commits with places in chains.

#include "fmt/core.h"
#include "gtest/gtest.h"

#include "tests/registry/society.h"

namespace broodpact::registry {
namespace {

class Devices : public testing::Test {
 protected:
  const Device& device(const Member& member) {
    return *society_.world.state().Find<Device>(member.device);
  }

  // What vera joins with by an invitation of this registrar's.
  facts::Joining InvitedBy(const Member& registrar) {
    const device::SecretKey invite = SeededKey('i');
    EXPECT_EQ(society_.Say(registrar, {facts::Invitation{.invite_key = invite.public_key(),
                                                         .role = facts::Role::kKeeper}}),
              "counted");
    return {.invite_key = invite.public_key(),
            .keeper = vera_.id,
            .keeper_name = vera_.name,
            .device_key = vera_.key,
            .invite_signature =
                invite.Sign(facts::JoiningMessage(world_.cooperative, vera_.id, vera_.key))};
  }

  Society society_;
  World& world_ = society_.world;
  const Member vera_{.name = "vera",
                     .id = Numbered<KeeperId>(9),
                     .key = SeededKey('v').public_key(),
                     .device = DeviceOf(SeededKey('v').public_key())};
};

TEST_F(Devices, OfOneKeeperAllActForIt) {
  const Member field = society_.Admit(world_.tomas, 'f');
  EXPECT_EQ(device(field).keeper, world_.tomas.id);
  EXPECT_EQ(device(field).label, "field");
  EXPECT_EQ(device(field).admitted_by, world_.tomas.device);
  const AnimalId rosa = world_.Enter(field, "rosa");
  EXPECT_EQ(world_.animal(rosa).owner, world_.tomas.id);
  EXPECT_EQ(society_.Say(world_.tomas, {facts::Moult{.animal = rosa, .day = On("2026-05-02")}}),
            "counted");
  EXPECT_EQ(world_.state().cooperative()->keepers, 4U);
}

TEST_F(Devices, AreLetInByTheirKeeperAlone) {
  EXPECT_EQ(society_.Say(world_.bela, {society_.InvitationOf(world_.tomas, 'x')}),
            "void NOT_REGISTRAR");
  EXPECT_EQ(society_.Say(world_.mira, {society_.InvitationOf(world_.tomas, 'x')}),
            "refused KEEPER_HAS_DEVICE");
}

TEST_F(Devices, AnInviteIsForADeviceOfItsKeeperOrForANewcomer) {
  ASSERT_EQ(society_.Say(world_.tomas, {society_.InvitationOf(world_.tomas, 'x')}), "counted");
  const Member belas = Society::DeviceOfKeeper(world_.bela, 'f');
  EXPECT_EQ(society_.Say(belas, {society_.JoiningOf(belas, 'x')}), "void INVITE_OTHER");
  Member vera = Society::DeviceOfKeeper(world_.tomas, 'v');
  vera.id = Numbered<KeeperId>(9);
  const facts::DeviceJoining as_device = society_.JoiningOf(vera, 'x');
  EXPECT_EQ(society_.Say(vera, {facts::Joining{.invite_key = as_device.invite_key,
                                               .keeper = vera.id,
                                               .keeper_name = "vera",
                                               .device_key = vera.key,
                                               .invite_signature = as_device.invite_signature}}),
            "void INVITE_OTHER");
}

TEST_F(Devices, ARegistrarLetsOneInForAKeeperWhoHasNoneLeft) {
  ASSERT_EQ(society_.Say(world_.tomas, {society_.Group("a")}), "counted");
  ASSERT_EQ(society_.Say(world_.mira, {society_.CutOf(world_.tomas)}), "counted");
  ASSERT_EQ(society_.Say(world_.mira, {society_.InvitationOf(world_.tomas, 'x')}), "counted");
  const Member fresh = Society::DeviceOfKeeper(world_.tomas, 'f');
  ASSERT_EQ(society_.Say(fresh, {society_.JoiningOf(fresh, 'x')}), "counted");
  EXPECT_EQ(society_.Say(fresh, {society_.Group("b")}), "counted");
}

TEST_F(Devices, OfOneKeeperAreSoManyAndNoMore) {
  for (int i = 1; i < static_cast<int>(kDevicesMax); ++i) {
    society_.Admit(world_.tomas, static_cast<char>(2 * i + 100));
  }
  ASSERT_EQ(society_.Say(world_.tomas, {society_.InvitationOf(world_.tomas, 3)}), "counted");
  const Member one_more = Society::DeviceOfKeeper(world_.tomas, 5);
  EXPECT_EQ(society_.Say(one_more, {society_.JoiningOf(one_more, 3)}), "refused TOO_MANY_RECORDS");
}

TEST_F(Devices, RevokedByAnotherOfTheKeepersWriteNothingThatCounts) {
  const Member field = society_.Admit(world_.tomas, 'f');
  ASSERT_EQ(society_.Say(world_.mira, {society_.Group("of mira")}), "counted");
  ASSERT_EQ(society_.Say(world_.tomas, {society_.CutOf(field)}), "counted");
  const std::uint64_t cut = world_.arrival();
  EXPECT_EQ(society_.Say(field, {society_.Group("a")}),
            fmt::format("void DEVICE_REVOKED by {}", cut));
  EXPECT_NE(world_.verdict().message.find("tomas has revoked this device"), std::string::npos);
  EXPECT_EQ(society_.Say(field, {society_.CutOf(world_.mira)}),
            fmt::format("void DEVICE_REVOKED by {}", cut));
  EXPECT_EQ(society_.Say(world_.tomas, {society_.Group("a")}), "counted");
}

TEST_F(Devices, AreRevokedByTheirKeeperOrARegistrar) {
  const Member field = society_.Admit(world_.tomas, 'f');
  EXPECT_EQ(society_.Say(world_.bela, {society_.CutOf(field)}), "void NOT_REGISTRAR");
  EXPECT_EQ(society_.Say(world_.mira, {society_.CutOf(field)}), "counted");
  EXPECT_EQ(device(field).reason, "stolen");
  EXPECT_EQ(device(field).ended.keeper, world_.mira.id);
}

TEST_F(Devices, AreRevokedOnce) {
  const Member field = society_.Admit(world_.tomas, 'f');
  ASSERT_EQ(society_.Say(world_.tomas, {society_.CutOf(field)}), "counted");
  const std::uint64_t first = world_.arrival();
  EXPECT_EQ(society_.Say(world_.mira, {society_.CutOf(field)}),
            fmt::format("superseded DEVICE_ENDED by {}", first));
}

TEST_F(Devices, WhatACutAwaitsCountsThoughItArrivesLater) {
  const Member field = society_.Admit(world_.tomas, 'f');
  facts::Arrived late = world_.Next(field, {society_.Group("a")});
  facts::Arrived later = world_.Next(field, {society_.Group("b")});
  facts::Revocation cut = society_.CutOf(field);
  cut.seq += 1;
  cut.hash = late.commit.hash;
  cut.awaited = {late.commit.hash};
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  late.arrival = world_.arrival() + 1;
  EXPECT_EQ(world_.FoldNext(late), "counted");
  later.arrival = world_.arrival() + 1;
  EXPECT_EQ(world_.FoldNext(later).substr(0, 19), "void DEVICE_REVOKED");
}

TEST_F(Devices, AnInviteOfARevokedDeviceLetsNobodyIn) {
  const Member field = society_.Admit(world_.tomas, 'f');
  ASSERT_EQ(society_.Say(field, {society_.InvitationOf(world_.tomas, 'x')}), "counted");
  ASSERT_EQ(society_.Say(world_.tomas, {society_.CutOf(field)}), "counted");
  const Member thief = Society::DeviceOfKeeper(world_.tomas, 't');
  EXPECT_EQ(society_.Say(thief, {society_.JoiningOf(thief, 'x')}), "void INVITE_WITHDRAWN");
}

TEST_F(Devices, AnInviteOfAKeyThatWasReplacedEndsWithTheKeyThatReplacedIt) {
  ASSERT_EQ(society_.Say(world_.tomas, {society_.InvitationOf(world_.tomas, 'x')}), "counted");
  const device::SecretKey key = SeededKey('n');
  const Member next = Society::DeviceOfKeeper(world_.tomas, 'n');
  ASSERT_EQ(society_.Say(world_.tomas,
                         {facts::KeyRotation{.device_key = key.public_key(),
                                             .key_signature = key.Sign(facts::RotationMessage(
                                                 world_.cooperative, world_.tomas.device))}}),
            "counted");
  ASSERT_EQ(society_.Say(world_.mira, {facts::Revocation{.device = next.device}}), "counted");
  const Member thief = Society::DeviceOfKeeper(world_.tomas, 't');
  EXPECT_EQ(society_.Say(thief, {society_.JoiningOf(thief, 'x')}), "void INVITE_WITHDRAWN");
}

TEST_F(Devices, AnInviteOfARegistrarWhoLeftLetsNobodyIn) {
  society_.Promote(world_.tomas);
  const facts::Joining joining = InvitedBy(world_.tomas);
  ASSERT_EQ(society_.Say(world_.tomas, {facts::Leaving{}}), "counted");
  EXPECT_EQ(society_.Say(vera_, {joining}), "void INVITE_WITHDRAWN");
}

TEST_F(Devices, AnInviteOfARegistrarWhoSteppedDownLetsNobodyIn) {
  society_.Promote(world_.tomas);
  const facts::Joining joining = InvitedBy(world_.tomas);
  ASSERT_EQ(society_.Say(world_.tomas, {facts::RoleChange{.keeper = world_.tomas.id,
                                                          .role = facts::Role::kKeeper}}),
            "counted");
  EXPECT_EQ(society_.Say(vera_, {joining}), "void INVITE_WITHDRAWN");
}

TEST_F(Devices, LateWorkIsAdoptedByAnotherDeviceOfTheKeeperOrARegistrar) {
  const Member field = society_.Admit(world_.tomas, 'f');
  const facts::Revocation cut = society_.CutOf(field);
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  const facts::AnimalEntry rosa{
      .animal = world_.NewId<AnimalId>(), .group = world_.group, .name = "rosa"};
  const facts::Adoption work = society_.LateWork(field, 'f', cut.seq + 1, {rosa});
  EXPECT_EQ(society_.Say(world_.bela, {work}), "void NOT_REGISTRAR");
  EXPECT_EQ(society_.Say(world_.tomas, {work}), "counted");
  const Animal animal = world_.animal(rosa.animal);
  EXPECT_EQ(animal.owner, world_.tomas.id);
  EXPECT_EQ(animal.owner_token, work.told->token());
  const facts::Adoption more = society_.LateWork(
      field, 'f', cut.seq + 2, {facts::Moult{.animal = rosa.animal, .day = On("2026-05-01")}});
  EXPECT_EQ(society_.Say(world_.mira, {more}), "counted");
  EXPECT_EQ(world_.animal(rosa.animal).moults.front().entry.keeper, world_.tomas.id);
}

TEST_F(Devices, LateWorkIsNotAdoptedByADeviceThatWasRevokedItself) {
  const Member field = society_.Admit(world_.tomas, 'f');
  const Member stolen = society_.Admit(world_.tomas, 's');
  const facts::Revocation cut = society_.CutOf(field);
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  ASSERT_EQ(society_.Say(world_.tomas, {society_.CutOf(stolen)}), "counted");
  const std::uint64_t revocation = world_.arrival();
  const facts::GroupEntry group = society_.Group("a");
  const facts::Adoption work = society_.LateWork(field, 'f', cut.seq + 1, {group});
  EXPECT_EQ(society_.Say(stolen, {work}), fmt::format("void DEVICE_REVOKED by {}", revocation));
  EXPECT_EQ(world_.state().Find<registry::Group>(group.group), nullptr);
}

TEST_F(Devices, LateWorkIsAdoptedOnceAndAlone) {
  const Member field = society_.Admit(world_.tomas, 'f');
  const facts::Revocation cut = society_.CutOf(field);
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  const facts::Adoption work = society_.LateWork(field, 'f', cut.seq + 1, {society_.Group("a")});
  EXPECT_EQ(society_.Say(world_.tomas, {work, society_.Group("b")}), "refused ADOPTION_NOT_ALONE");
  ASSERT_EQ(society_.Say(world_.tomas, {work}), "counted");
  const std::uint64_t first = world_.arrival();
  EXPECT_EQ(society_.Say(world_.mira, {work}),
            fmt::format("superseded ALREADY_RESTATED by {}", first));
}

// After a loss the log has other numbers than those that the adopter has seen.
TEST_F(Devices, LateWorkIsAdoptedWhateverNumbersItsAdopterHasSeen) {
  const Member field = society_.Admit(world_.tomas, 'f');
  const facts::Revocation cut = society_.CutOf(field);
  ASSERT_EQ(society_.Say(world_.mira, {cut}), "counted");
  for (const std::uint64_t seen : {std::uint64_t{1}, world_.arrival() + 1'000}) {
    const facts::Adoption work =
        society_.LateWork(field, 'f', cut.seq + seen, {society_.Group(fmt::format("g{}", seen))});
    EXPECT_EQ(
        world_.SayAs(world_.mira, {work},
                     [&](facts::Arrived& arrived) { arrived.commit.header.seen.arrivals = seen; }),
        "counted");
  }
}

TEST_F(Devices, LateWorkThatTheCutAwaitsIsAdoptedToo) {
  const Member field = society_.Admit(world_.tomas, 'f');
  facts::Revocation cut = society_.CutOf(field);
  const facts::Adoption work = society_.LateWork(field, 'f', cut.seq + 1, {society_.Group("a")});
  cut.seq += 2;
  cut.awaited = {work.told->hash};
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  EXPECT_EQ(society_.Say(world_.mira, {work}), "counted");
}

TEST_F(Devices, OnlyWhatComesAfterTheCutIsAdoptedAndNothingAboutMembers) {
  const Member field = society_.Admit(world_.tomas, 'f');
  facts::Revocation cut = society_.CutOf(field);
  cut.seq = 5;
  const facts::Adoption work = society_.LateWork(field, 'f', 6, {society_.Group("a")});
  EXPECT_EQ(society_.Say(world_.tomas, {work}), "refused NOT_REVOKED");
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  EXPECT_EQ(society_.Say(world_.mira, {society_.LateWork(field, 'f', 4, {society_.Group("b")})}),
            "refused BEFORE_CUT");
  EXPECT_EQ(
      society_.Say(world_.tomas,
                   {society_.LateWork(field, 'f', 6, {society_.InvitationOf(world_.tomas, 'x')})}),
      "refused ADOPTS_MEMBERSHIP");
  facts::Adoption forged = work;
  forged.signature[0] = static_cast<std::uint8_t>(forged.signature[0] ^ 1U);
  EXPECT_EQ(society_.Say(world_.tomas, {forged}), "void SIGNATURE_BAD");
  EXPECT_EQ(society_.Say(world_.tomas, {work}), "counted");
}

TEST_F(Devices, OfAForkAtThePlaceOfTheCutTheOtherBranchIsAdopted) {
  const Member field = society_.Admit(world_.tomas, 'f');
  ASSERT_EQ(society_.Say(field, {society_.Group("b")}), "counted");
  const facts::Revocation cut = society_.CutOf(field);
  ASSERT_EQ(society_.Say(world_.tomas, {cut}), "counted");
  const facts::Adoption work = society_.LateWork(field, 'f', cut.seq, {society_.Group("a")});
  ASSERT_NE(work.told->hash, cut.hash);
  EXPECT_EQ(society_.Say(world_.tomas, {work}), "counted");
}

TEST_F(Devices, AnotherKeyTakesTheOldOnesPlaceAndTheOldOneWritesNoMore) {
  const device::SecretKey next = SeededKey('n');
  const Member rotated = Society::DeviceOfKeeper(world_.tomas, 'n');
  const facts::KeyRotation rotation{
      .device_key = next.public_key(),
      .key_signature = next.Sign(facts::RotationMessage(world_.cooperative, world_.tomas.device))};
  facts::KeyRotation unsigned_by_it = rotation;
  unsigned_by_it.key_signature =
      SeededKey('o').Sign(facts::RotationMessage(world_.cooperative, world_.tomas.device));
  EXPECT_EQ(society_.Say(world_.tomas, {unsigned_by_it}), "void KEY_SIGNATURE_BAD");
  ASSERT_EQ(society_.Say(world_.tomas, {rotation}), "counted");
  const std::uint64_t at = world_.arrival();
  EXPECT_EQ(society_.Say(world_.tomas, {society_.Group("a")}),
            fmt::format("void DEVICE_REPLACED by {}", at));
  EXPECT_EQ(society_.Say(rotated, {society_.Group("a")}), "counted");
  EXPECT_EQ(device(world_.tomas).successor, rotated.device);
  EXPECT_EQ(world_.state().Find<Keeper>(world_.tomas.id)->devices.size(), 2U);
}

TEST_F(Devices, OneCommitReplacesAKeyOnce) {
  const auto rotation = [&](char seed) {
    const device::SecretKey next = SeededKey(seed);
    return facts::KeyRotation{.device_key = next.public_key(),
                              .key_signature = next.Sign(
                                  facts::RotationMessage(world_.cooperative, world_.tomas.device))};
  };
  EXPECT_EQ(society_.Say(world_.tomas, {rotation('n'), rotation('o')}), "refused KEY_REPLACED");
  EXPECT_EQ(society_.Say(world_.tomas, {rotation('n')}), "counted");
}

TEST_F(Devices, OfAKeeperWhoLeavesCeaseAndWhatItOwnsStays) {
  const Member field = society_.Admit(world_.tomas, 'f');
  const AnimalId rosa = world_.Enter(world_.tomas, "rosa");
  ASSERT_EQ(society_.Say(field, {facts::Leaving{.reason = "moves away"}}), "counted");
  const std::uint64_t at = world_.arrival();
  EXPECT_EQ(society_.Say(world_.tomas, {society_.Group("a")}),
            fmt::format("void DEVICE_LEFT by {}", at));
  EXPECT_TRUE(world_.state().Find<Keeper>(world_.tomas.id)->has_left);
  EXPECT_EQ(world_.animal(rosa).owner, world_.tomas.id);
  EXPECT_EQ(world_.state().cooperative()->keepers, 4U);
}

TEST_F(Devices, TheLastRegistrarNeitherLeavesNorRevokesItself) {
  ASSERT_EQ(society_.Say(world_.mira, {society_.Group("a")}), "counted");
  EXPECT_EQ(society_.Say(world_.mira, {facts::Leaving{}}), "refused LAST_REGISTRAR");
  EXPECT_EQ(society_.Say(world_.mira, {society_.CutOf(world_.mira)}), "refused LAST_REGISTRAR");
}

TEST_F(Devices, AreLookedAfterByAnObserverToo) {
  ASSERT_EQ(society_.Say(world_.mira, {facts::RoleChange{.keeper = world_.tomas.id,
                                                         .role = facts::Role::kObserver}}),
            "counted");
  EXPECT_EQ(society_.Say(world_.tomas, {society_.Group("a")}), "void OBSERVER");
  const Member field = society_.Admit(world_.tomas, 'f');
  EXPECT_EQ(society_.Say(world_.tomas, {society_.CutOf(field)}), "counted");
}

// The first lets him in, and the second would be one more of his in the registrar's hands.
TEST_F(Devices, ASecondInviteByARegistrarEndsWithTheDeviceThatTheFirstLetIn) {
  ASSERT_EQ(society_.Say(world_.tomas, {society_.Group("a")}), "counted");
  ASSERT_EQ(society_.Say(world_.mira, {society_.CutOf(world_.tomas)}), "counted");
  ASSERT_EQ(society_.Say(world_.mira, {society_.InvitationOf(world_.tomas, 'x')}), "counted");
  ASSERT_EQ(society_.Say(world_.mira, {society_.InvitationOf(world_.tomas, 'y')}), "counted");
  const Member his = Society::DeviceOfKeeper(world_.tomas, 'n');
  ASSERT_EQ(society_.Say(his, {society_.JoiningOf(his, 'x')}), "counted");
  const Member hers = Society::DeviceOfKeeper(world_.tomas, 'm');
  EXPECT_EQ(society_.Say(hers, {society_.JoiningOf(hers, 'y')}), "void INVITE_WITHDRAWN");
}

}  // namespace
}  // namespace broodpact::registry
