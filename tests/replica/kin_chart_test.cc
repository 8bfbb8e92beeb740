// Goal: a chart has each ancestor once, marks what is shared, and folds clutch-mates. Method: a
// small line whose chart can be told by hand.

#include "client/replica/kin_chart.h"

#include <gmock/gmock.h>

#include "client/base/status.h"
#include "tests/replica/testing/brood.h"
#include "tests/replica/testing/society.h"

namespace broodpact::replica {
namespace {

using testing::AddAnimal;
using testing::AddGroup;
using testing::Brood;
using testing::On;
using ::testing::SizeIs;

class KinChart : public ::testing::Test {
 protected:
  KinChart() {
    society_.Found("mira", "CZ");
    group_ = AddGroup(society_, "mira", "hamorii-colima");
  }

  AnimalId Add(const std::string& name, facts::Sex sex, AnimalId sire = {}, AnimalId dam = {}) {
    return AddAnimal(society_, "mira",
                     {.group = group_, .name = name, .sex = sex, .sire = sire, .dam = dam});
  }

  v1::KinChart Of(const AnimalId& animal, std::uint32_t generations = 5) {
    const auto chart = ChartOf(society_.ViewOf("mira"), animal, generations);
    EXPECT_TRUE(chart.ok()) << chart.status();
    return chart.ok() ? *chart : v1::KinChart{};
  }

  static const v1::ChartNode& Named(const v1::KinChart& chart, const std::string& name) {
    for (const v1::ChartNode& node : chart.nodes()) {
      if (node.subject().name() == name) return node;
    }
    ADD_FAILURE() << name << " is not in the chart";
    return v1::ChartNode::default_instance();
  }

  testing::Society society_;
  GroupId group_;
};

constexpr auto kMale = facts::Sex::kMale;
constexpr auto kFemale = facts::Sex::kFemale;

// A mating of half sibs by the sire, whose own sire is her grandfather too.
TEST_F(KinChart, DrawsALoopOnceAndMarksTheSharedAncestor) {
  const AnimalId shared = Add("bruno", kMale);
  const AnimalId sire = Add("karel", kMale, shared, Add("anna", kFemale));
  const AnimalId dam = Add("rosa", kFemale, shared, Add("berta", kFemale));
  const AnimalId child = Add("first", kFemale, sire, dam);
  const v1::KinChart chart = Of(child);
  ASSERT_THAT(chart.nodes(), SizeIs(6));
  EXPECT_EQ(chart.nodes(0).subject().name(), "first");
  EXPECT_EQ(chart.nodes(0).inbreeding(), 0.125);
  EXPECT_EQ(Named(chart, "bruno").lines(), 2U);
  EXPECT_TRUE(Named(chart, "bruno").founder());
  EXPECT_EQ(Named(chart, "bruno").generation(), 2);
  EXPECT_EQ(Named(chart, "bruno").kinship(), 0.25);
  EXPECT_EQ(Named(chart, "anna").lines(), 1U);
  EXPECT_FALSE(Named(chart, "rosa").founder());
}

TEST_F(KinChart, PutsAParentThatIsAGrandparentTooAboveItsOffspring) {
  const AnimalId sire = Add("bruno", kMale);
  const AnimalId dam = Add("rosa", kFemale, sire);
  const v1::KinChart chart = Of(Add("first", kMale, sire, dam));
  EXPECT_EQ(Named(chart, "bruno").generation(), 2);
  EXPECT_EQ(Named(chart, "rosa").generation(), 1);
  EXPECT_EQ(chart.nodes(0).inbreeding(), 0.25);
}

TEST_F(KinChart, EndsAfterTheGenerationsAskedFor) {
  const AnimalId oldest = Add("a", kFemale);
  const AnimalId older = Add("b", kFemale, {}, oldest);
  const AnimalId young = Add("c", kFemale, {}, older);
  EXPECT_THAT(Of(young, 1).nodes(), SizeIs(2));
  EXPECT_THAT(Of(young, 0).nodes(), SizeIs(1));
  EXPECT_FALSE(Named(Of(young, 1), "b").founder());  // it has a dam, beyond the chart
}

TEST_F(KinChart, FoldsClutchMatesIntoOneNode) {
  const AnimalId sire = Add("bruno", kMale);
  const AnimalId dam = Add("rosa", kFemale);
  Brood brood(society_, "mira", dam);
  brood.Pair(sire, "2026-08-05");
  brood.Hatch(500, "2026-09-01", "2026-10-20");
  const AnimalId first = brood.Raise("first", "2026-11-20");
  brood.Raise("second", "2026-11-20");
  const v1::KinChart chart = Of(first);
  ASSERT_THAT(chart.nodes(), SizeIs(4));
  const v1::ChartNode& mates = chart.nodes(3);
  EXPECT_EQ(mates.kind(), "clutch");
  EXPECT_EQ(mates.mates(), 499U);
  EXPECT_EQ(mates.generation(), 0);
  EXPECT_EQ(mates.kinship(), 0.25);
  EXPECT_EQ(mates.sire(), chart.nodes(0).sire());

  // The same clutch as the sire sees it.
  const v1::KinChart his = Of(sire);
  ASSERT_THAT(his.nodes(), SizeIs(3));
  EXPECT_EQ(his.nodes(1).subject().name(), "rosa");
  EXPECT_EQ(his.nodes(2).kind(), "clutch");
  EXPECT_EQ(his.nodes(2).generation(), -1);
  EXPECT_EQ(his.nodes(2).sire(), 1U);
  EXPECT_EQ(his.nodes(2).dam(), 2U);
  EXPECT_EQ(his.nodes(2).mates(), 500U);
}

TEST_F(KinChart, HasOneNodeForSeveralPossibleSires) {
  const AnimalId sire = Add("bruno", kMale);
  const AnimalId other = Add("karel", kMale);
  const AnimalId dam = Add("rosa", kFemale);
  Brood brood(society_, "mira", dam);
  brood.Pair(sire, "2026-08-05");
  brood.Pair(other, "2026-08-06");
  brood.Hatch(20, "2026-09-01", "2026-10-20");
  const v1::KinChart chart = Of(brood.Raise("first", "2026-11-20"));
  const v1::ChartNode& sires = chart.nodes(static_cast<int>(chart.nodes(0).sire()) - 1);
  EXPECT_EQ(sires.kind(), "sires");
  std::vector<std::string> names;
  for (const v1::Ref& one : sires.possible_sires()) names.push_back(one.name());
  EXPECT_THAT(names, ::testing::UnorderedElementsAre("bruno", "karel"));
}

TEST_F(KinChart, OfNobodyIsAnError) {
  const AnimalId nobody = device::FreshId<AnimalId>(society_.randomness());
  EXPECT_EQ(ReasonOf(ChartOf(society_.ViewOf("mira"), nobody, 5).status()), "UNKNOWN_SUBJECT");
}

}  // namespace
}  // namespace broodpact::replica
