// Goal: every animal stands after its parents and beside its full sibs, or a cycle is named.
// Method: laws over generated pedigrees, sound ones and ones that are made cyclic, and examples.

#include "client/kinship/order.h"

#include <algorithm>
#include <set>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "client/base/status.h"
#include "tests/kinship/any_pedigree.h"

namespace broodpact::kinship {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::vector<Parents> AnyPedigree() {
  const auto animals = *AnyOrderedPedigree();
  return Renumbered(animals, AnyNumbering(animals.size()));
}

std::vector<Node> PlacesOf(const std::vector<Node>& order) {
  std::vector<Node> places(order.size());
  for (std::size_t i = 0; i < order.size(); ++i) places[order[i]] = static_cast<Node>(i);
  return places;
}

// Whether `animal` is among its own ancestors.
bool IsOnACycle(const std::vector<Parents>& animals, Node animal) {
  std::set<Node> seen;
  std::vector<Node> open{animals[animal].sire, animals[animal].dam};
  while (!open.empty()) {
    const Node at = open.back();
    open.pop_back();
    if (at == animal) return true;
    if (at == kUnknown || !seen.insert(at).second) continue;
    open.insert(open.end(), {animals[at].sire, animals[at].dam});
  }
  return false;
}

RC_GTEST_PROP(Order, HasEveryAnimalOnceAndParentsBeforeOffspring, ()) {
  const auto animals = AnyPedigree();
  const auto order = OrderByGeneration(animals);
  RC_ASSERT(order.ok());
  RC_ASSERT(std::set<Node>(order->begin(), order->end()).size() == animals.size());
  const auto places = PlacesOf(*order);
  for (std::size_t i = 0; i < animals.size(); ++i) {
    if (animals[i].sire != kUnknown) RC_ASSERT(places[animals[i].sire] < places[i]);
    if (animals[i].dam != kUnknown) RC_ASSERT(places[animals[i].dam] < places[i]);
  }
}

RC_GTEST_PROP(Order, HasFullSibsSideBySide, ()) {
  auto animals = AnyPedigree();
  const std::size_t count = animals.size();
  for (std::size_t i = 0; i < count; ++i) animals.push_back(animals[i]);  // a sib for each
  const auto order = OrderByGeneration(animals);
  RC_ASSERT(order.ok());
  std::set<std::pair<Node, Node>> finished;
  for (std::size_t i = 1; i < order->size(); ++i) {
    const Parents& before = animals[(*order)[i - 1]];
    const Parents& here = animals[(*order)[i]];
    if (!(before == here)) finished.insert({before.sire, before.dam});
    RC_ASSERT(!finished.contains({here.sire, here.dam}));
  }
}

RC_GTEST_PROP(Order, NamesAnAnimalThatIsReallyOnACycle, ()) {
  auto animals = AnyPedigree();
  const auto victim = *rc::gen::inRange<std::size_t>(0, animals.size());
  animals[victim].sire = *rc::gen::inRange<Node>(0, static_cast<Node>(animals.size()));
  bool any = false;
  for (Node i = 0; i < animals.size(); ++i) any = any || IsOnACycle(animals, i);
  const auto order = OrderByGeneration(animals);
  RC_ASSERT(order.ok() == !any);
  if (!any) return;
  RC_ASSERT(ReasonOf(order.status()) == "PEDIGREE_CYCLE");
  const std::string message(order.status().message());
  const auto named = static_cast<Node>(std::stoul(message.substr(message.find(' ') + 1)));
  RC_ASSERT(IsOnACycle(animals, named));
}

RC_GTEST_PROP(Order, NamesTheLineOfACycleFromItsLowestOn, ()) {
  auto animals = AnyPedigree();
  const auto victim = *rc::gen::inRange<std::size_t>(0, animals.size());
  animals[victim].dam = *rc::gen::inRange<Node>(0, static_cast<Node>(animals.size()));
  const std::vector<Node> line = CycleIn(animals);
  RC_ASSERT(line.empty() == OrderByGeneration(animals).ok());
  for (std::size_t i = 0; i < line.size(); ++i) {
    const Node next = line[(i + 1) % line.size()];
    RC_ASSERT(animals[line[i]].sire == next || animals[line[i]].dam == next);
    RC_ASSERT(line[i] >= line.front());
  }
}

TEST(Order, GoesByGenerationThenParentsThenNumber) {
  // 0 and 1 are clutch-mates out of 4 and 5; 2 is an offspring of 0; 3 is half sib of 0.
  const std::vector<Parents> animals{{4, 5}, {4, 5}, {0, kUnknown}, {4, kUnknown}, {}, {}};
  const auto order = OrderByGeneration(animals);
  ASSERT_TRUE(order.ok());
  EXPECT_THAT(*order, ElementsAre(4, 5, 0, 1, 3, 2));
}

TEST(Order, OfNobodyIsEmpty) {
  const auto order = OrderByGeneration({});
  ASSERT_TRUE(order.ok());
  EXPECT_THAT(*order, IsEmpty());
}

TEST(Order, ReportsAParentThatIsNotThereBeforeACycle) {
  const std::vector<Parents> animals{{0, kUnknown}, {7, kUnknown}};
  EXPECT_EQ(ReasonOf(OrderByGeneration(animals).status()), "PARENT_UNKNOWN");
}

}  // namespace
}  // namespace broodpact::kinship
