// Goal: a walk leaves nothing behind that the next one could see. Method: a law that compares one
// walk used for all pairs with a fresh one for each.

#include "client/kinship/ancestor_walk.h"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "tests/kinship/any_pedigree.h"

namespace broodpact::kinship {
namespace {

RC_GTEST_PROP(AncestorWalk, IsAsGoodAsNewAfterEachWalk, ()) {
  const auto animals = *AnyOrderedPedigree();
  // Any variances do: what is tested is that both walks sum up the same ones.
  const auto mendelian = *rc::gen::container<std::vector<double>>(
      animals.size(), rc::gen::element(0.25, 0.5, 0.75, 1.0));
  AncestorWalk used(animals.size());
  for (Node a = 0; a < animals.size(); ++a) {
    for (Node b = 0; b < animals.size(); ++b) {
      AncestorWalk fresh(animals.size());
      RC_ASSERT(used.Kinship(a, b, animals, mendelian) == fresh.Kinship(a, b, animals, mendelian));
    }
  }
}

}  // namespace
}  // namespace broodpact::kinship
