// Goal: what holds for every commit, whatever it states: all of it or nothing, in its place in the
// log, and held where this version cannot know.
// Method: a cooperative in memory.

#include "client/registry/fold.h"

#include "gtest/gtest.h"

#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

facts::Moult Moult(const AnimalId& animal) {
  return {.animal = animal, .day = On("2026-05-01")};
}

TEST(Fold, AllStatementsOfACommitCountOrNone) {
  World world;
  const AnimalId mine = world.Enter(world.mira, "m1");
  const AnimalId others = world.Enter(world.tomas, "t1");
  const MapSource before = world.Flush();
  EXPECT_EQ(world.Say(world.mira, {Moult(mine), Moult(others)}), "void NOT_YOUR_ANIMAL");
  EXPECT_EQ(world.Flush(), before);
}

TEST(Fold, LaterStatementsOfACommitBuildOnEarlierOnes) {
  World world;
  const auto id = world.NewId<AnimalId>();
  EXPECT_EQ(
      world.Say(world.mira,
                {facts::AnimalEntry{.animal = id, .group = world.group, .name = "m1"}, Moult(id)}),
      "counted");
  EXPECT_EQ(world.animal(id).moults.size(), 1U);
}

TEST(Fold, ACommitOfAnotherCooperativeIsVoid) {
  World world;
  const AnimalId id = world.Enter(world.mira, "m1");
  EXPECT_EQ(world.SayAs(world.mira, {Moult(id)},
                        [](facts::Arrived& arrived) {
                          arrived.commit.header.cooperative = Sha256("another");
                        }),
            "void COOPERATIVE_OTHER");
}

TEST(Fold, CountsWhatSawMoreThanAServerHasLeftAfterALoss) {
  World world;
  const AnimalId id = world.Enter(world.mira, "m1");
  EXPECT_EQ(world.SayAs(world.mira, {Moult(id)},
                        [&](facts::Arrived& arrived) {
                          arrived.commit.header.seen.arrivals = world.arrival() + 5;
                        }),
            "counted");
}

TEST(Fold, AProvisionalCommitIsEnteredWithoutAnArrival) {
  World world;
  const AnimalId id = world.Enter(world.mira, "m1");
  EXPECT_EQ(world.SayProvisionally(world.mira, {Moult(id)}), "counted");
  const Entry entry = world.animal(id).moults.front().entry;
  EXPECT_EQ(entry.arrival, 0U);
  EXPECT_EQ(entry.time_ms, world.history().back().time_ms);
  EXPECT_EQ(entry.keeper, world.mira.id);
}

TEST(Fold, EntersEverythingWithItsPlaceAndAuthor) {
  World world;
  const AnimalId id = world.Enter(world.tomas, "t1");
  const Entry expected{.arrival = world.arrival(),
                       .time_ms = world.history().back().time_ms,
                       .keeper = world.tomas.id};
  EXPECT_EQ(world.animal(id).entry, expected);
  EXPECT_EQ(world.animal(id).owner_token, world.token());
  EXPECT_EQ(world.animal(id).owner_arrival, world.arrival());
}

TEST(Fold, HoldsANewerKindAndWhatItNames) {
  World world;
  const AnimalId named = world.Enter(world.mira, "m1");
  const AnimalId other = world.Enter(world.mira, "m2");
  EXPECT_EQ(world.Say(world.mira, {Moult(other), facts::Unknown{.subjects = {named.bytes}}}),
            "held NEWER_KIND");
  EXPECT_TRUE(world.animal(other).moults.empty()) << "all of a commit is held";
  EXPECT_EQ(world.Say(world.mira, {Moult(named)}), "held SUBJECT_FROZEN");
  EXPECT_TRUE(world.animal(named).moults.empty());
  EXPECT_EQ(world.Say(world.mira, {Moult(other)}), "counted") << "only what it names";
  EXPECT_EQ(world.state().cooperative()->frozen, 1U);
}

TEST(Fold, HoldsWhatWouldWriteAFrozenSubjectWithoutNamingIt) {
  World world;
  const AnimalId animal = world.Enter(world.mira, "m1");
  const LoanId loan = world.Lend(world.mira, world.tomas, animal);
  ASSERT_EQ(world.Say(world.mira, {facts::Unknown{.subjects = {animal.bytes}}}), "held NEWER_KIND");
  EXPECT_EQ(world.Say(world.tomas, {facts::Receipt{.loan = loan, .day = On("2026-05-02")}}),
            "held SUBJECT_FROZEN");
  EXPECT_EQ(world.animal(animal).holder, world.mira.id);
}

TEST(Fold, NobodyHoldsStillWhoIsAMember) {
  World world;
  ASSERT_EQ(world.Say(world.tomas,
                      {facts::Unknown{.subjects = {world.tomas.id.bytes, world.tomas.device.bytes,
                                                   world.iva.id.bytes}}}),
            "held NEWER_KIND");
  const AnimalId animal = world.Enter(world.mira, "m1");
  EXPECT_EQ(world.Say(world.mira, {facts::Gift{.animal = animal,
                                               .receiver = world.iva.id,
                                               .owner_token = world.animal(animal).owner_token}}),
            "counted");
  EXPECT_EQ(world.Say(world.mira, {facts::Revocation{.device = world.tomas.device}}), "counted");
}

TEST(Fold, HoldsASubjectStillNoLongerThanWhoNamedItHasAVote) {
  World world;
  const AnimalId animal = world.Enter(world.mira, "m1");
  ASSERT_EQ(world.Say(world.tomas, {facts::Unknown{.subjects = {animal.bytes}}}),
            "held NEWER_KIND");
  ASSERT_EQ(world.Say(world.mira, {Moult(animal)}), "held SUBJECT_FROZEN");
  ASSERT_EQ(world.Say(world.mira, {facts::RoleChange{.keeper = world.tomas.id,
                                                     .role = facts::Role::kObserver}}),
            "counted");
  EXPECT_EQ(world.Say(world.mira, {Moult(animal)}), "counted");
}

TEST(Fold, AStrangerFreezesNothing) {
  World world;
  const AnimalId animal = world.Enter(world.mira, "m1");
  const Member stranger{
      .name = "x", .id = Numbered<KeeperId>(50), .device = Numbered<DeviceId>(50)};
  const MapSource before = world.Flush();
  EXPECT_EQ(world.Say(stranger, {facts::Unknown{.subjects = {animal.bytes}}}), "held NEWER_KIND");
  EXPECT_EQ(world.Flush(), before);
  EXPECT_EQ(world.Say(world.mira, {Moult(animal)}), "counted");
}

TEST(Fold, SurvivesASourceThatFails) {
  class Failing final : public Source {
   public:
    absl::StatusOr<std::optional<std::string>> Subject(const SubjectKey&) const override {
      return absl::UnavailableError("gone");
    }
    absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view,
                                                          std::size_t) const override {
      return absl::UnavailableError("gone");
    }
    absl::StatusOr<std::vector<StoredSubject>> SubjectsOfKind(Kind, std::optional<IdBytes>,
                                                              std::size_t) const override {
      return absl::UnavailableError("gone");
    }
  };
  World world;
  const AnimalId animal = world.Enter(world.mira, "m1");
  world.Lend(world.mira, world.tomas, animal);
  const Failing failing;
  State state(failing);
  for (const facts::Arrived& arrived : world.history()) Fold(state, arrived);
  EXPECT_EQ(state.source_status().code(), absl::StatusCode::kUnavailable);
}

// Fails every read of one kind of subject: the fold meets subjects that name what is not there.
class Patchy final : public Source {
 public:
  Patchy(const MapSource& base, Kind missing) : base_(base), missing_(missing) {}
  absl::StatusOr<std::optional<std::string>> Subject(const SubjectKey& key) const override {
    if (key.kind == missing_) return absl::UnavailableError("gone");
    return base_.Subject(key);
  }
  absl::StatusOr<std::vector<std::string>> IndexEntries(std::string_view prefix,
                                                        std::size_t count_max) const override {
    return base_.IndexEntries(prefix, count_max);
  }
  absl::StatusOr<std::vector<StoredSubject>> SubjectsOfKind(Kind kind, std::optional<IdBytes> after,
                                                            std::size_t count_max) const override {
    return base_.SubjectsOfKind(kind, after, count_max);
  }

 private:
  const MapSource& base_;
  Kind missing_;
};

TEST(Fold, SurvivesASourceThatFailsForOneKindOfSubject) {
  World world;
  const AnimalId male = world.Enter(world.mira, "m1", facts::Sex::kMale);
  const AnimalId female = world.Enter(world.tomas, "f1", facts::Sex::kFemale);
  const LoanId loan = world.Lend(world.mira, world.tomas, male);
  const ClutchId clutch = world.Lay(world.tomas, female);
  world.Count(world.tomas, clutch, 10);
  const LotId lot = world.ShareOut(world.tomas, clutch);
  const MapSource base = world.Flush();
  const std::vector<facts::Arrived> next = {
      world.Next(world.tomas, {facts::Receipt{.loan = loan, .day = On("2026-05-02")}}),
      world.Next(world.mira, {facts::Gift{.animal = male,
                                          .receiver = world.tomas.id,
                                          .owner_token = world.animal(male).owner_token}}),
      world.Next(world.tomas, {facts::LotLoss{.lot = lot, .slings = 2, .day = On("2026-05-25")}}),
      world.Next(world.tomas, {facts::LotRaising{.lot = lot,
                                                 .animal = world.NewId<AnimalId>(),
                                                 .name = "x",
                                                 .day = On("2026-05-25")}})};
  for (int kind = 1; kind <= 12; ++kind) {
    const Patchy patchy(base, static_cast<Kind>(kind));
    State state(patchy);
    for (const facts::Arrived& arrived : next) Fold(state, arrived);
  }
}

}  // namespace
}  // namespace broodpact::registry
