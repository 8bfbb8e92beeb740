// Goal: a walk leaves nothing behind that the next one could see. Method: a law that compares one
// walk used for all pairs with a fresh one for each.

#include "client/kinship/internal/ancestor_walk.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/kinship/any_pedigree.h"

namespace broodpact::kinship {
namespace {

RC_GTEST_PROP(AncestorWalk, IsAsGoodAsNewAfterEachWalk, ()) {
  const auto animals = *AnyOrderedPedigree();
  std::vector<Strand> strands(1);
  const auto place_of = [](Node animal) { return animal == kUnknown ? kNobody : animal + 1; };
  for (const Parents& parents : animals) {
    // Any variances do: what is tested is that both walks sum up the same ones.
    strands.push_back({.first = place_of(parents.sire),
                       .second = place_of(parents.dam),
                       .own = *rc::gen::element(0.25, 0.5, 0.75, 1.0)});
  }
  AncestorWalk used(strands.size());
  for (Node a = 1; a < strands.size(); ++a) {
    for (Node b = 1; b < strands.size(); ++b) {
      const Part one{.place = a, .part = 1};
      const Part other{.place = b, .part = 1};
      AncestorWalk fresh(strands.size());
      RC_ASSERT(used.Relationship({&one, 1}, {&other, 1}, strands) ==
                fresh.Relationship({&one, 1}, {&other, 1}, strands));
    }
  }
}

}  // namespace
}  // namespace broodpact::kinship
