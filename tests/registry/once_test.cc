// Goal: what a commit says counts once, whether it comes by itself, adopted or stated again, and in
// whatever order. Method: one device's commits, each a moult of one animal, so that what counts
// can be counted; each comes by every way.

#include <random>
#include <set>
#include <string>
#include <vector>

#include "gtest/gtest.h"
#include "rapidcheck.h"

#include "tests/registry/society.h"

namespace broodpact::registry {
namespace {

constexpr char kFieldSeed = 'f';

// A second device of tomas's, and what it wrote: commits that come one way or the other.
class FieldWork {
 public:
  FieldWork() : field(society.Admit(world.tomas, kFieldSeed)) {
    rosa = world.Enter(world.tomas, "rosa");
  }

  facts::Adoption WorkAt(std::uint64_t seq) const {
    return society.LateWork(field, kFieldSeed, seq,
                            {facts::Moult{.animal = rosa, .day = On("2026-05-01")}});
  }
  std::string ComeByItself(const facts::Adoption& work) {
    facts::Arrived arrived = world.Next(field, {});
    arrived.commit = *work.told;
    return world.FoldNext(arrived);
  }
  std::string ComeStatedAgain(const facts::Adoption& work) {
    const facts::Restatement again{
        .commit = work.commit, .signature = work.signature, .told = work.told};
    return world.SayAs(field, {again},
                       [](facts::Arrived& arrived) { arrived.commit.header.incarnation = 2; });
  }
  std::string ComeAdopted(const facts::Adoption& work) { return society.Say(world.mira, {work}); }
  // The device is cut off, at the last of the commits or before all of them.
  std::string CutAt(std::uint64_t seq, const std::vector<Hash>& awaited) {
    facts::Revocation cut = society.CutOf(field);
    cut.seq = seq;
    cut.awaited = awaited;
    return society.Say(world.tomas, {cut});
  }
  std::size_t moults() { return world.animal(rosa).moults.size(); }
  std::string at_last() const { return std::to_string(world.arrival()); }

  Society society;
  World& world = society.world;
  const Member field;
  AnimalId rosa{};
};

TEST(Once, WhatArrivedByItselfDoesNotCountAgainByAnAdoption) {
  FieldWork field;
  const facts::Adoption work = field.WorkAt(9);
  ASSERT_EQ(field.ComeByItself(work), "counted");
  const std::string first = field.at_last();
  ASSERT_EQ(field.CutAt(8, {}), "counted");
  EXPECT_EQ(field.ComeAdopted(work), "superseded ALREADY_ARRIVED by " + first);
  EXPECT_NE(field.world.verdict().message.find("(arrival " + first + ")"), std::string::npos);
  EXPECT_EQ(field.moults(), 1U);
}

TEST(Once, WhatWasAdoptedDoesNotCountAgainWhenItArrivesByItself) {
  FieldWork field;
  const facts::Adoption work = field.WorkAt(9);
  ASSERT_EQ(field.CutAt(9, {work.told->hash}), "counted");
  ASSERT_EQ(field.ComeAdopted(work), "counted");
  const std::string first = field.at_last();
  EXPECT_EQ(field.ComeByItself(work), "superseded ALREADY_RESTATED by " + first);
  EXPECT_NE(field.world.verdict().message.find("(arrival " + first + ")"), std::string::npos);
  EXPECT_EQ(field.moults(), 1U);
}

TEST(Once, WhatArrivedByItselfIsNotStatedAgainAndTheOtherWayRound) {
  FieldWork field;
  const facts::Adoption one = field.WorkAt(9);
  ASSERT_EQ(field.ComeByItself(one), "counted");
  const std::string arrival = field.at_last();
  EXPECT_EQ(field.ComeStatedAgain(one), "superseded ALREADY_ARRIVED by " + arrival);
  const facts::Adoption other = field.WorkAt(10);
  ASSERT_EQ(field.ComeStatedAgain(other), "counted");
  const std::string restatement = field.at_last();
  EXPECT_EQ(field.ComeByItself(other), "superseded ALREADY_RESTATED by " + restatement);
  EXPECT_EQ(field.moults(), 2U);
}

TEST(Once, WhatDidNotCountAsItArrivedIsAdoptedAllTheSame) {
  FieldWork field;
  const facts::Adoption work = field.WorkAt(9);
  ASSERT_EQ(field.CutAt(8, {}), "counted");
  ASSERT_EQ(field.ComeByItself(work).substr(0, 4), "void");
  EXPECT_EQ(field.ComeAdopted(work), "counted");
  EXPECT_EQ(field.moults(), 1U);
}

// The other branch of a fork has the places of commits that count.
TEST(Once, AnotherCommitAtThePlaceOfOneThatCountsIsStatedAgain) {
  FieldWork field;
  ASSERT_EQ(field.ComeByItself(field.WorkAt(9)), "counted");
  const facts::Adoption other = field.society.LateWork(
      field.field, kFieldSeed, 9, {facts::Moult{.animal = field.rosa, .day = On("2026-05-02")}});
  EXPECT_EQ(field.ComeStatedAgain(other), "counted");
  EXPECT_EQ(field.moults(), 2U);
}

TEST(Once, OfWhatHasNotArrivedNeitherNamesAnArrival) {
  FieldWork field;
  const facts::Adoption work = field.WorkAt(9);
  facts::Arrived waiting = field.world.Next(field.field, {});
  waiting.commit = *work.told;
  waiting.arrival = 0;
  ASSERT_EQ(field.world.FoldNext(waiting), "counted");
  EXPECT_EQ(field.ComeStatedAgain(work), "superseded ALREADY_ARRIVED");
}

TEST(Once, EachCommitHasItsEffectInWhateverOrderAndByWhateverWaysItComes) {
  EXPECT_TRUE(rc::check([] {
    std::mt19937 random(*rc::gen::arbitrary<std::uint32_t>());
    FieldWork field;
    // Places on both sides of the end of a stretch.
    std::vector<facts::Adoption> works;
    std::vector<Hash> awaited;
    for (std::uint64_t i = 0; i < 6; ++i) {
      works.push_back(field.WorkAt(kStretchPlaces - 3 + i));
      awaited.push_back(works.back().told->hash);
    }
    std::set<Hash> counted;
    const std::size_t cut_at = random() % 24;
    for (std::size_t step = 0; step < 24; ++step) {
      if (step == cut_at) RC_ASSERT(field.CutAt(kStretchPlaces + 2, awaited) == "counted");
      const facts::Adoption& work = works[random() % works.size()];
      const std::size_t way = random() % 2;
      const std::string verdict = way == 0        ? field.ComeByItself(work)
                                  : step < cut_at ? field.ComeStatedAgain(work)
                                                  : field.ComeAdopted(work);
      const bool first = counted.insert(work.told->hash).second;
      RC_ASSERT((verdict == "counted") == first);
      RC_ASSERT(field.moults() == counted.size());
    }
  }));
}

}  // namespace
}  // namespace broodpact::registry
