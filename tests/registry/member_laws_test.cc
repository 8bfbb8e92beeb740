// Goal: whatever members, thieves and registrars state in whatever order, nothing by a device past
// its cut counts, votes are counted right, and all replicas agree.
// Method: random histories, seeded by rapidcheck: keepers with up to three devices that invite,
// join, revoke, replace keys, move, sign, leave, lease, and give animals away.

#include <map>
#include <random>
#include <set>

#include "gtest/gtest.h"
#include "rapidcheck.h"

#include "tests/registry/society.h"

namespace broodpact::registry {
namespace {

class MemberHistory {
 public:
  explicit MemberHistory(std::uint32_t seed) : random_(seed) {
    for (const Member* member : {&world.mira, &world.tomas, &world.bela, &world.iva}) {
      devices_.push_back(*member);
      society.Say(*member, {society.Group("of " + member->name)});
    }
    for (const Member& member : std::vector<Member>(devices_)) {
      animals_.push_back(world.Enter(member, "animal of " + member.name));
    }
  }

  void Step() {
    const Member author = devices_[Roll(devices_.size())];
    const std::vector<facts::Statement> statements = {AnyStatement(author)};
    society.Say(author, statements);
    const auto& before = ended_.find(author.device);
    past_cut = before != ended_.end();
    if (world.verdict().kind == VerdictKind::kCounted) Note(statements.front(), author);
    NoteEnded();
  }

  Society society;
  World& world = society.world;
  bool past_cut = false;  // whether the last author's device had ceased before

 private:
  std::size_t Roll(std::size_t sides) { return random_() % sides; }

  facts::Statement AnyStatement(const Member& author) {
    const Member& other = devices_[Roll(devices_.size())];
    const AnimalId animal = animals_[Roll(animals_.size())];
    const Animal now = world.animal(animal);
    switch (Roll(12)) {
      case 0:
        return society.InvitationOf(other, static_cast<char>(++seeds_));
      case 1:
        return facts::KeyRotation{
            .device_key = SeededKey(static_cast<char>(++seeds_)).public_key(),
            .key_signature = SeededKey(static_cast<char>(seeds_))
                                 .Sign(facts::RotationMessage(world.cooperative, author.device))};
      case 2:
      case 3:
        return society.CutOf(other);
      case 4:
      case 5:
        return facts::RoleChange{.keeper = other.id, .role = static_cast<facts::Role>(1 + Roll(3))};
      case 6:
      case 7:
        return facts::MotionSignature{.motion = motions_.empty() ? Numbered<MotionId>(1)
                                                                 : motions_[Roll(motions_.size())]};
      case 8:
        if (Roll(8) == 0) return facts::Leaving{};
        [[fallthrough]];
      case 9:
        return facts::LeaseTaking{.lease = world.NewId<LeaseId>(),
                                  .animal = animal,
                                  .owner_token = now.owner_token,
                                  .until = On("2026-06-07").earliest};
      default:
        return facts::Gift{.animal = animal,
                           .receiver = other.id,
                           .owner_token = now.owner_token,
                           .holder_token = now.holder_token};
    }
  }

  // Lets in what was invited, goes on with another key, remembers motions.
  void Note(const facts::Statement& statement, const Member& author) {
    if (const auto* invitation = std::get_if<facts::DeviceInvitation>(&statement)) {
      Member keeper = author;
      keeper.id = invitation->keeper;
      const auto invite = static_cast<char>(seeds_);
      const Member device = Society::DeviceOfKeeper(keeper, static_cast<char>(++seeds_));
      if (society.Say(device, {society.JoiningOf(device, invite)}) == "counted") {
        devices_.push_back(device);
        society.Say(device, {society.Group("of " + std::to_string(devices_.size()))});
      }
    } else if (std::holds_alternative<facts::KeyRotation>(statement)) {
      devices_.push_back(Society::DeviceOfKeeper(author, static_cast<char>(seeds_)));
      society.Say(devices_.back(), {society.Group("of " + std::to_string(devices_.size()))});
    } else if (const auto* change = std::get_if<facts::RoleChange>(&statement)) {
      motions_.push_back(society.MotionOf(change->keeper.bytes));
    } else if (const auto* cut = std::get_if<facts::Revocation>(&statement)) {
      motions_.push_back(society.MotionOf(cut->device.bytes));
    }
  }

  void NoteEnded() {
    for (const Member& member : devices_) {
      const Device* device = world.state().Find<Device>(member.device);
      if (device != nullptr && device->state != DeviceState::kActive) ended_.insert(member.device);
    }
  }

  std::mt19937 random_;
  std::vector<Member> devices_;
  std::vector<AnimalId> animals_;
  std::vector<MotionId> motions_;
  std::set<DeviceId> ended_;
  unsigned seeds_ = 20;
};

constexpr int kSteps = 60;

// Folds a history from nothing, storing and forgetting every so often.
MapSource FoldAnew(const std::vector<facts::Arrived>& commits, std::size_t chunk) {
  MapSource source;
  State state(source);
  for (std::size_t i = 0; i < commits.size(); ++i) {
    Fold(state, commits[i]);
    if ((i + 1) % chunk != 0 && i + 1 != commits.size()) continue;
    source.Store(state.TakeChanges());
    state.Shrink();
  }
  return source;
}

TEST(MemberLaws, NothingByADevicePastItsCutCounts) {
  EXPECT_TRUE(rc::check([] {
    MemberHistory history(*rc::gen::arbitrary<std::uint32_t>());
    for (int i = 0; i < kSteps; ++i) {
      const MapSource before = history.world.Flush();
      const std::size_t commits = history.world.history().size();
      history.Step();
      if (!history.past_cut) continue;
      RC_ASSERT(history.world.history().size() == commits + 1);
      RC_ASSERT(history.world.verdict().kind == VerdictKind::kVoid);
      RC_ASSERT(history.world.verdict().winner_arrival > 0U);
      RC_ASSERT(history.world.Flush() == before);
    }
  }));
}

TEST(MemberLaws, VotesAreThoseOfKeepersWhoHaveADevice) {
  EXPECT_TRUE(rc::check([] {
    MemberHistory history(*rc::gen::arbitrary<std::uint32_t>());
    for (int i = 0; i < kSteps; ++i) history.Step();
    const MapSource& stored = history.world.Flush();
    std::set<KeeperId> with_device;
    for (const Device& device : stored.All<Device>()) {
      if (device.state == DeviceState::kActive) with_device.insert(device.keeper);
    }
    std::uint64_t registrars = 0;
    std::uint64_t voters = 0;
    for (const Keeper& keeper : stored.All<Keeper>()) {
      if (!with_device.contains(keeper.id) || keeper.role == facts::Role::kObserver) continue;
      ++voters;
      registrars += keeper.role == facts::Role::kRegistrar ? 1U : 0U;
    }
    RC_ASSERT(history.world.state().cooperative()->registrars == registrars);
    RC_ASSERT(history.world.state().cooperative()->voters == voters);
  }));
}

TEST(MemberLaws, ReplicasThatFoldInOtherStepsAgree) {
  EXPECT_TRUE(rc::check([] {
    MemberHistory history(*rc::gen::arbitrary<std::uint32_t>());
    for (int i = 0; i < kSteps; ++i) history.Step();
    const MapSource& whole = history.world.Flush();
    for (const std::size_t chunk : {1U, 7U, 1000U}) {
      RC_ASSERT(FoldAnew(history.world.history(), chunk) == whole);
    }
  }));
}

TEST(MemberLaws, ARegistrarIsMadeOrUnmadeByEnoughOrByItself) {
  EXPECT_TRUE(rc::check([] {
    MemberHistory history(*rc::gen::arbitrary<std::uint32_t>());
    for (int i = 0; i < kSteps; ++i) {
      std::map<KeeperId, facts::Role> roles;
      for (const Keeper& keeper : history.world.Flush().All<Keeper>())
        roles[keeper.id] = keeper.role;
      const std::uint64_t registrars = history.world.state().cooperative()->registrars;
      history.Step();
      const facts::Arrived& last = history.world.history().back();
      for (const Keeper& keeper : history.world.Flush().All<Keeper>()) {
        const bool was = roles[keeper.id] == facts::Role::kRegistrar;
        const bool is = keeper.role == facts::Role::kRegistrar;
        if (was == is || registrars < 2) continue;
        const auto* change = std::get_if<facts::RoleChange>(&last.commit.statements.front());
        const bool stepped_down = change != nullptr && was && change->keeper == keeper.id &&
                                  keeper.role_change.keeper == keeper.id;
        const bool signed_last =
            std::holds_alternative<facts::MotionSignature>(last.commit.statements.front());
        RC_ASSERT(stepped_down || signed_last);
      }
    }
  }));
}

}  // namespace
}  // namespace broodpact::registry
