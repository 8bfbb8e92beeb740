#pragma once

// A World whose keepers have several devices, each with a chain of its own: for tests of who may
// write, and until when.

#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "client/device/key.h"
#include "client/facts/commit.h"
#include "tests/registry/world.h"

namespace broodpact::registry {

inline device::SecretKey SeededKey(char seed) {
  return device::SecretKey::OfSeed(std::string(32, seed));
}

class Society {
 public:
  // A member's statement by the next commit of its device's chain.
  std::string Say(const Member& member, std::vector<facts::Statement> statements) {
    return world.SayAs(member, std::move(statements), [&](facts::Arrived& arrived) {
      arrived.commit.header.seq = ++seqs_[member.device];
      arrived.commit.header.incarnation = 1;
      arrived.commit.header.seen.arrivals = arrived.arrival - 1;
      last_[member.device] = arrived.commit.hash;
    });
  }

  // A device of that key, of a keeper who is in.
  static Member DeviceOfKeeper(const Member& keeper, char seed) {
    Member device = keeper;
    device.key = SeededKey(seed).public_key();
    device.device = DeviceOf(device.key);
    return device;
  }

  facts::DeviceInvitation InvitationOf(const Member& keeper, char invite_seed) const {
    return {
        .invite_key = SeededKey(invite_seed).public_key(), .keeper = keeper.id, .label = "field"};
  }
  facts::DeviceJoining JoiningOf(const Member& device, char invite_seed) const {
    const device::SecretKey invite = SeededKey(invite_seed);
    return {.invite_key = invite.public_key(),
            .keeper = device.id,
            .device_key = device.key,
            .invite_signature =
                invite.Sign(facts::JoiningMessage(world.cooperative, device.id, device.key))};
  }

  // A second device of a keeper, let in by its first.
  Member Admit(const Member& keeper, char seed) {
    const Member device = DeviceOfKeeper(keeper, seed);
    const char invite = static_cast<char>(seed + 1);
    EXPECT_EQ(Say(keeper, {InvitationOf(keeper, invite)}), "counted");
    EXPECT_EQ(Say(device, {JoiningOf(device, invite)}), "counted");
    return device;
  }

  // The cut at the last commit of a device.
  facts::Revocation CutOf(const Member& device) const {
    return {.device = device.device,
            .incarnation = 1,
            .seq = seqs_.at(device.device),
            .hash = last_.at(device.device),
            .reason = "stolen"};
  }

  // Makes a keeper a registrar, all who have to sign willing.
  void Promote(const Member& keeper) {
    Say(world.mira, {facts::RoleChange{.keeper = keeper.id, .role = facts::Role::kRegistrar}});
    const auto id = MotionOf(keeper.id.bytes);
    for (const Member* signer : {&world.tomas, &world.bela, &world.iva}) {
      const Motion* motion = world.state().Find<Motion>(id);
      if (motion == nullptr || motion->state == MotionState::kCarried) break;
      Say(*signer, {facts::MotionSignature{.motion = id}});
    }
    EXPECT_EQ(world.state().Find<Keeper>(keeper.id)->role, facts::Role::kRegistrar);
  }

  // The motion that the last commit stated about that keeper or device.
  MotionId MotionOf(const IdBytes& target) const {
    const Hash& hash = world.history().back().commit.hash;
    return FirstHalf<MotionId>(Sha256({ViewOf(hash), "motion", ViewOf(target)}));
  }

  facts::GroupEntry Group(std::string name) {
    return {.group = world.NewId<GroupId>(), .name = std::move(name), .taxon = "Avicularia"};
  }

  // A commit with real bytes that a device wrote and that did not count, to be adopted.
  facts::Adoption LateWork(const Member& device, char seed, std::uint64_t seq,
                           const std::vector<facts::Statement>& statements) const {
    const std::string bytes = facts::BuildCommit({.cooperative = world.cooperative,
                                                  .device = device.device,
                                                  .incarnation = 1,
                                                  .seq = seq,
                                                  .prev = Sha256("the one before")},
                                                 statements);
    auto told = std::make_shared<const facts::Commit>(*facts::ParseCommit(bytes));
    return {.commit = bytes,
            .signature = facts::SignCommit(SeededKey(seed), told->hash),
            .told = std::move(told)};
  }

  World world;

 private:
  std::map<DeviceId, std::uint64_t> seqs_;
  std::map<DeviceId, Hash> last_;
};

}  // namespace broodpact::registry
