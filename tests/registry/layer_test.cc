// Goal: a layer shows laid changes over its base, and throws them away with itself.
// Method: small examples; the laws compare with a store of the same changes (laws_test.cc).

#include "client/registry/layer.h"

#include "gmock/gmock.h"
#include "gtest/gtest.h"

#include "tests/registry/map_source.h"
#include "tests/registry/world.h"

namespace broodpact::registry {
namespace {

using testing::ElementsAre;

SubjectKey KeyOf(std::uint32_t n, Kind kind = Kind::kGroup) {
  return {kind, Numbered<GroupId>(n).bytes};
}

class Layers : public testing::Test {
 protected:
  Layers() {
    base_.Store({{.key = KeyOf(1), .value = "one", .index_added = {"a1", "b1"}},
                 {.key = KeyOf(3), .value = "three", .index_added = {"a3"}},
                 {.key = KeyOf(5), .value = "five", .index_added = {"a5"}}});
  }

  std::vector<std::string> Values(std::optional<IdBytes> after, std::size_t count_max) {
    std::vector<std::string> values;
    const auto subjects = layer_.SubjectsOfKind(Kind::kGroup, after, count_max);
    for (const StoredSubject& subject : *subjects) values.push_back(subject.value);
    return values;
  }

  MapSource base_;
  Layer layer_{base_};
};

TEST_F(Layers, AnEmptyOneIsItsBase) {
  EXPECT_TRUE(layer_.empty());
  EXPECT_EQ(*layer_.Subject(KeyOf(1)), "one");
  EXPECT_EQ(*layer_.Subject(KeyOf(2)), std::nullopt);
  EXPECT_THAT(*layer_.IndexEntries("a", 9), ElementsAre("a1", "a3", "a5"));
  EXPECT_THAT(Values(std::nullopt, 2), ElementsAre("one", "three"));
}

TEST_F(Layers, LaidChangesShowOverTheBaseAndAreCovered) {
  layer_.Lay({{.key = KeyOf(2), .value = "two", .index_added = {"a2"}},
              {.key = KeyOf(3), .value = "III", .index_removed = {"a3"}, .index_added = {"c3"}}});
  EXPECT_EQ(*layer_.Subject(KeyOf(3)), "III");
  EXPECT_TRUE(layer_.Covers(KeyOf(3)));
  EXPECT_FALSE(layer_.Covers(KeyOf(1)));
  EXPECT_FALSE(layer_.empty());
  EXPECT_THAT(*layer_.IndexEntries("a", 9), ElementsAre("a1", "a2", "a5"));
  EXPECT_THAT(*layer_.IndexEntries("a", 2), ElementsAre("a1", "a2"));
  EXPECT_THAT(*layer_.IndexEntries("c", 9), ElementsAre("c3"));
  EXPECT_THAT(Values(std::nullopt, 9), ElementsAre("one", "two", "III", "five"));
  EXPECT_THAT(Values(std::nullopt, 3), ElementsAre("one", "two", "III"));
  EXPECT_THAT(Values(KeyOf(2).id, 9), ElementsAre("III", "five"));
  EXPECT_EQ(*base_.Subject(KeyOf(3)), "three");
}

TEST_F(Layers, LaterChangesLieOverEarlierOnes) {
  layer_.Lay({{.key = KeyOf(2), .value = "two", .index_added = {"a2"}}});
  layer_.Lay({{.key = KeyOf(2), .value = "II", .index_removed = {"a2"}, .index_added = {"b2"}}});
  layer_.Lay({{.key = KeyOf(3), .value = "III", .index_removed = {"a3"}}});
  layer_.Lay({{.key = KeyOf(3), .value = "iii", .index_added = {"a3"}}});
  EXPECT_EQ(*layer_.Subject(KeyOf(2)), "II");
  EXPECT_THAT(*layer_.IndexEntries("a", 9), ElementsAre("a1", "a3", "a5"));
  EXPECT_THAT(*layer_.IndexEntries("b", 9), ElementsAre("b1", "b2"));
}

TEST_F(Layers, RemovedEntriesMakeRoomForLaterOnes) {
  layer_.Lay({{.key = KeyOf(1), .value = "I", .index_removed = {"a1"}}});
  EXPECT_THAT(*layer_.IndexEntries("a", 2), ElementsAre("a3", "a5"));
}

TEST_F(Layers, OtherKindsStayApart) {
  layer_.Lay({{.key = KeyOf(2, Kind::kKeeper), .value = "keeper"},
              {.key = KeyOf(2, Kind::kAnimal), .value = "animal"}});
  EXPECT_THAT(Values(std::nullopt, 9), ElementsAre("one", "three", "five"));
}

TEST_F(Layers, LayersLieOnLayers) {
  layer_.Lay({{.key = KeyOf(2), .value = "two", .index_added = {"a2"}}});
  Layer top(layer_);
  top.Lay({{.key = KeyOf(1), .value = "I", .index_removed = {"a1"}}});
  EXPECT_THAT(*top.IndexEntries("a", 9), ElementsAre("a2", "a3", "a5"));
  EXPECT_EQ(*top.Subject(KeyOf(2)), "two");
}

}  // namespace
}  // namespace broodpact::registry
