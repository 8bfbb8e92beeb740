// Goal: a state keeps or drops what a draft wrote as a whole, and hands each change out once.
// Method: subjects written by hand over a map of bytes.

#include "client/registry/state.h"

#include <algorithm>
#include <deque>
#include <map>
#include <random>

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "client/base/status.h"
#include "client/registry/index.h"
#include "tests/registry/map_source.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

const GroupId kGroup = Numbered<GroupId>(1);

// Creates a group, to be kept or dropped.
void Create(State& state, const GroupId& id, std::string name) {
  state.Create<Group>(id).name = std::move(name);
}

std::size_t Named(State& state, std::string_view name) {
  return state.IsNamed(NamePrefix(Kind::kGroup, name)) ? 1 : 0;
}

TEST(State, ADraftIsKeptAsAWhole) {
  State state(EmptySource());
  Create(state, kGroup, "a");
  EXPECT_EQ(state.Find<Group>(kGroup)->name, "a") << "seen before it is kept";
  state.KeepDraft();
  EXPECT_EQ(state.Find<Group>(kGroup)->name, "a");
  EXPECT_EQ(state.Find<Group>(kGroup)->id, kGroup);
}

TEST(State, ADraftIsDroppedAsAWhole) {
  State state(EmptySource());
  Create(state, kGroup, "a");
  state.KeepDraft();
  state.Edit<Group>(kGroup).name = "b";
  state.Edit<Group>(kGroup).line = "l";
  Create(state, Numbered<GroupId>(2), "c");
  state.DropDraft();
  EXPECT_EQ(state.Find<Group>(kGroup)->name, "a");
  EXPECT_EQ(state.Find<Group>(kGroup)->line, "");
  EXPECT_EQ(state.Find<Group>(Numbered<GroupId>(2)), nullptr);
}

TEST(State, NamesOfDraftsAreSeenAndForgottenWithThem) {
  State state(EmptySource());
  Create(state, kGroup, "a");
  EXPECT_EQ(Named(state, "a"), 1U);
  state.Edit<Group>(kGroup).name = "b";
  EXPECT_EQ(Named(state, "a"), 0U) << "written again after it was looked up";
  EXPECT_EQ(Named(state, "b"), 1U);
  state.DropDraft();
  EXPECT_EQ(Named(state, "b"), 0U);
  Create(state, kGroup, "a");
  state.KeepDraft();
  EXPECT_EQ(Named(state, "a"), 1U);
  state.Edit<Group>(kGroup).name = "b";
  EXPECT_EQ(Named(state, "a"), 0U);
  state.DropDraft();
  EXPECT_EQ(Named(state, "a"), 1U);
  EXPECT_EQ(Named(state, "b"), 0U);
}

TEST(State, NamesOfTheSourceAreSeenUntilTheyChange) {
  MapSource source;
  State state(source);
  Create(state, kGroup, "a");
  state.KeepDraft();
  source.Store(state.TakeChanges());
  EXPECT_EQ(Named(state, "a"), 1U) << "stored";
  state.Shrink();
  EXPECT_EQ(Named(state, "a"), 1U) << "forgotten";
  state.Edit<Group>(kGroup).name = "b";
  state.KeepDraft();
  EXPECT_EQ(Named(state, "a"), 0U);
  EXPECT_EQ(Named(state, "b"), 1U);
}

TEST(State, ANameOfADroppedDraftStaysFreeWhenChangesAreTaken) {
  State state(EmptySource());
  Create(state, kGroup, "a");
  EXPECT_EQ(Named(state, "a"), 1U);
  state.DropDraft();
  EXPECT_THAT(state.TakeChanges(), IsEmpty());
  Create(state, kGroup, "b");
  EXPECT_EQ(Named(state, "a"), 0U);
  EXPECT_EQ(Named(state, "b"), 1U);
}

// Groups by id and their names: what a state of them must answer, by two plain maps.
struct Twin {
  std::map<std::uint32_t, std::string> kept;
  std::map<std::uint32_t, std::string> draft;

  bool IsNamed(const std::string& name) const {
    return std::any_of(draft.begin(), draft.end(),
                       [&](const auto& group) { return group.second == name; });
  }
};

// Where changes go: at once, or some time after they were taken.
struct Storage {
  MapSource source{};
  std::deque<std::vector<Change>> ahead{};

  void StoreOldest(State& state) {
    source.Store(std::move(ahead.front()));
    ahead.pop_front();
    state.Settle();
  }
};

// One step of both: something written, kept, dropped, taken, stored or forgotten.
void StepBoth(std::mt19937& random, State& state, Twin& twin, Storage& storage) {
  const auto roll = [&](std::uint32_t sides) {
    return static_cast<std::uint32_t>(random()) % sides;
  };
  const std::uint32_t number = 1 + roll(3);
  const auto id = Numbered<GroupId>(number);
  const std::string name(1, static_cast<char>('a' + roll(3)));
  switch (roll(8)) {
    case 0:
    case 1:
    case 2:
      if (twin.draft.contains(number)) {
        state.Edit<Group>(id).name = name;
      } else {
        Create(state, id, name);
      }
      twin.draft[number] = name;
      return;
    case 3:
      state.KeepDraft();
      twin.kept = twin.draft;
      return;
    case 4:
      state.DropDraft();
      twin.draft = twin.kept;
      return;
    case 5:
      state.DropDraft();
      twin.draft = twin.kept;
      storage.ahead.push_back(state.TakeChangesAhead());
      return;
    case 6:
      if (!storage.ahead.empty()) storage.StoreOldest(state);
      return;
    default:
      state.DropDraft();
      twin.draft = twin.kept;
      while (!storage.ahead.empty()) storage.StoreOldest(state);
      storage.source.Store(state.TakeChanges());
      if (roll(3) == 0) state.Shrink();
  }
}

TEST(State, KnowsEveryNameThatIsTakenWhateverWasKeptDroppedOrStored) {
  for (std::uint32_t seed = 0; seed < 300; ++seed) {
    std::mt19937 random(seed);
    Storage storage;
    State state(storage.source);
    Twin twin;
    for (int i = 0; i < 60; ++i) {
      StepBoth(random, state, twin, storage);
      if (random() % 2 == 0) continue;
      for (const std::string name : {"a", "b", "c"}) {
        ASSERT_EQ(Named(state, name) == 1, twin.IsNamed(name))
            << name << " after step " << i << " of seed " << seed;
      }
    }
  }
}

TEST(State, HandsOutEachChangeOnceInOrderOfKey) {
  MapSource source;
  State state(source);
  Create(state, Numbered<GroupId>(3), "c");
  state.Create<Keeper>(Numbered<KeeperId>(9)).name = "mira";
  Create(state, Numbered<GroupId>(1), "a");
  state.KeepDraft();
  state.Edit<Group>(Numbered<GroupId>(1)).name = "b";
  state.KeepDraft();
  const std::vector<Change> changes = state.TakeChanges();
  ASSERT_EQ(changes.size(), 3U);
  EXPECT_EQ(changes[0].key.kind, Kind::kKeeper);
  EXPECT_EQ(changes[1].key.id, Numbered<GroupId>(1).bytes);
  EXPECT_EQ(changes[2].key.id, Numbered<GroupId>(3).bytes);
  EXPECT_EQ(Decode<Group>(changes[1].value)->name, "b");
  EXPECT_EQ(changes[1].index_added.size(), 1U);
  EXPECT_THAT(changes[1].index_removed, IsEmpty()) << "the name a was never stored";
  EXPECT_THAT(state.TakeChanges(), IsEmpty());
}

TEST(State, HandsOutIndexEntriesOnlyWhereTheyChange) {
  MapSource source;
  State state(source);
  Create(state, kGroup, "a");
  state.KeepDraft();
  source.Store(state.TakeChanges());
  state.Edit<Group>(kGroup).line = "l";
  state.KeepDraft();
  std::vector<Change> changes = state.TakeChanges();
  ASSERT_EQ(changes.size(), 1U);
  EXPECT_THAT(changes[0].index_added, IsEmpty());
  EXPECT_THAT(changes[0].index_removed, IsEmpty());
  source.Store(changes);

  state.Edit<Group>(kGroup).name = "b";
  state.KeepDraft();
  state.Edit<Group>(kGroup).name = "c";
  state.KeepDraft();
  changes = state.TakeChanges();
  EXPECT_THAT(changes[0].index_removed,
              ElementsAre(NamePrefix(Kind::kGroup, "a") + std::string(ViewOf(kGroup.bytes))));
  EXPECT_THAT(changes[0].index_added,
              ElementsAre(NamePrefix(Kind::kGroup, "c") + std::string(ViewOf(kGroup.bytes))));
}

TEST(State, ADroppedCreationLeavesNothing) {
  State state(EmptySource());
  Create(state, kGroup, "a");
  state.DropDraft();
  EXPECT_THAT(state.TakeChanges(), IsEmpty());
  Create(state, kGroup, "b");
  state.KeepDraft();
  EXPECT_EQ(state.TakeChanges().size(), 1U);
}

TEST(State, ListsWhatTheDraftWrote) {
  State state(EmptySource());
  Create(state, kGroup, "a");
  state.Edit<Group>(kGroup).line = "l";
  EXPECT_EQ(state.DraftKeys(), (std::vector<SubjectKey>{{Kind::kGroup, kGroup.bytes}}));
  state.KeepDraft();
  EXPECT_THAT(state.DraftKeys(), IsEmpty());
}

TEST(State, ShrinkForgetsWhatIsCached) {
  MapSource source;
  State state(source);
  Create(state, kGroup, "a");
  state.KeepDraft();
  source.Store(state.TakeChanges());
  EXPECT_EQ(state.cached(), 1U);
  state.Shrink();
  EXPECT_EQ(state.cached(), 0U);
  EXPECT_EQ(state.Find<Group>(kGroup)->name, "a") << "read again";
}

TEST(State, SaysWhenAStoredSubjectIsDamaged) {
  MapSource source;
  source.Store({{.key = {Kind::kGroup, kGroup.bytes}, .value = "damaged"}});
  State state(source);
  EXPECT_TRUE(state.source_status().ok());
  EXPECT_EQ(state.Find<Group>(kGroup), nullptr);
  EXPECT_EQ(ReasonOf(state.source_status()), "STORE_DAMAGED");
  EXPECT_EQ(ReasonOf(Read<Group>(source, kGroup).status()), "STORE_DAMAGED");
}

TEST(Source, ReadsASubjectByItsIdOrTheBytesOfIt) {
  World world;
  const MapSource& source = world.Flush();
  EXPECT_EQ((*Read<Group>(source, world.group))->name, "hamorii-colima");
  EXPECT_EQ((*Read<Group>(source, world.group.bytes))->name, "hamorii-colima");
  EXPECT_EQ(*Read<Group>(source, Numbered<GroupId>(99)), std::nullopt);
  EXPECT_EQ((*Read<Cooperative>(source, kCooperativeKey.id))->name, "brood");
}

TEST(Source, ReadsSeveralSubjectsInTheOrderAskedFor) {
  World world;
  const MapSource& source = world.Flush();
  const auto values = source.Subjects({{Kind::kGroup, world.group.bytes},
                                       {Kind::kGroup, Numbered<GroupId>(99).bytes},
                                       kCooperativeKey});
  ASSERT_EQ(values->size(), 3U);
  EXPECT_TRUE((*values)[0].has_value());
  EXPECT_FALSE((*values)[1].has_value());
  EXPECT_TRUE((*values)[2].has_value());
}

TEST(Source, TheEmptyOneHasNothing) {
  EXPECT_EQ(*EmptySource().Subject(kCooperativeKey), std::nullopt);
  EXPECT_THAT(*EmptySource().IndexEntries("", 9), IsEmpty());
  EXPECT_THAT(*EmptySource().SubjectsOfKind(Kind::kGroup, std::nullopt, 9), IsEmpty());
}

}  // namespace
}  // namespace broodpact::registry
