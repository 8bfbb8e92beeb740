// Goal: the highest place comes first, each once. Method: a law against std::set, with places that
// fall into one word, neighbouring words and words far apart.

#include "client/kinship/internal/frontier.h"

#include <set>

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

namespace broodpact::kinship {
namespace {

RC_GTEST_PROP(Frontier, GivesBackTheHighestPlaceAsASetWould, ()) {
  const auto places = *rc::gen::element<Node>(1, 64, 65, 4'096, 4'097, 300'000);
  Frontier frontier(places);
  std::set<Node> twin;
  const auto steps = *rc::gen::container<std::vector<Node>>(rc::gen::weightedOneOf<Node>({
      {1, rc::gen::just(kUnknown)},  // take one out
      {2, rc::gen::inRange<Node>(0, places)},
      {1, rc::gen::inRange<Node>(places > 66 ? places - 66 : 0, places)},
  }));
  for (const Node step : steps) {
    RC_ASSERT(frontier.empty() == twin.empty());
    if (step != kUnknown) {
      frontier.Add(step);
      twin.insert(step);
    } else if (!twin.empty()) {
      RC_ASSERT(frontier.TakeHighest() == *twin.rbegin());
      twin.erase(*twin.rbegin());
    }
  }
  while (!twin.empty()) {
    RC_ASSERT(frontier.TakeHighest() == *twin.rbegin());
    twin.erase(*twin.rbegin());
  }
  RC_ASSERT(frontier.empty());
}

TEST(Frontier, ForNoPlacesIsEmpty) {
  EXPECT_TRUE(Frontier(0).empty());
}

}  // namespace
}  // namespace broodpact::kinship
