#include "client/kinship/pedigree.h"

#include <algorithm>
#include <span>

#include "client/base/check.h"
#include "client/base/status.h"
#include "client/kinship/ancestor_walk.h"
#include "client/kinship/order.h"

namespace broodpact::kinship {
namespace {

// How much of an animal's genes is new chance and not its parents' average, as a variance relative
// to that of a founder: 1 - (1 + F of the sire) / 4 - (1 + F of the dam) / 4, a missing parent
// taking nothing off (Henderson, Biometrics 32 (1976) 69-83).
double MendelianVariance(const Parents& parents, std::span<const double> inbreeding) {
  double variance = 1;
  for (const Node parent : {parents.sire, parents.dam}) {
    if (parent != kUnknown) variance -= (1 + inbreeding[parent]) / 4;
  }
  return variance;
}

}  // namespace

absl::StatusOr<Pedigree> Pedigree::Of(std::vector<Parents> animals) {
  const std::size_t count = animals.size();
  BP_CHECK(count < kUnknown);
  BP_ASSIGN_OR_RETURN(const std::vector<Node> order, OrderByGeneration(animals));

  Pedigree pedigree;
  pedigree.place_.resize(count);
  for (std::size_t i = 0; i < count; ++i) pedigree.place_[order[i]] = static_cast<Node>(i);
  const auto place_of = [&](Node animal) {
    return animal == kUnknown ? kUnknown : pedigree.place_[animal];
  };
  pedigree.parents_.reserve(count);
  for (const Node animal : order) {
    const Parents& parents = animals[animal];
    pedigree.parents_.push_back({.sire = place_of(parents.sire), .dam = place_of(parents.dam)});
  }

  AncestorWalk walk(count);
  std::vector<double> inbreeding(count);  // by place
  pedigree.mendelian_.resize(count);
  for (std::size_t i = 0; i < count; ++i) {
    const Parents& parents = pedigree.parents_[i];
    if (i > 0 && parents == pedigree.parents_[i - 1]) {
      inbreeding[i] = inbreeding[i - 1];  // full sibs stand side by side
    } else if (parents.sire != kUnknown && parents.dam != kUnknown) {
      inbreeding[i] =
          walk.Kinship(parents.sire, parents.dam, pedigree.parents_, pedigree.mendelian_);
    }
    pedigree.mendelian_[i] = MendelianVariance(parents, inbreeding);
  }

  pedigree.inbreeding_.resize(count);
  for (std::size_t i = 0; i < count; ++i) pedigree.inbreeding_[order[i]] = inbreeding[i];
  return pedigree;
}

double Pedigree::Kinship(Node first, Node second) const {
  const Node first_place = place_[first];
  const Node second_place = place_[second];
  AncestorWalk walk(std::size_t{std::max(first_place, second_place)} + 1);
  return walk.Kinship(first_place, second_place, parents_, mendelian_);
}

std::vector<double> Pedigree::KinshipWithAll(Node animal) const {
  // Colleau: the row of the relationship matrix T D T' is T (D (T' e)), where T' hands the animal's
  // genes up to its ancestors and T hands theirs down to all descendants.
  std::vector<double> genes(size());
  genes[place_[animal]] = 1;
  for (std::size_t i = std::size_t{place_[animal]} + 1; i-- > 0;) {
    if (genes[i] == 0) continue;
    for (const Node parent : {parents_[i].sire, parents_[i].dam}) {
      if (parent != kUnknown) genes[parent] += genes[i] / 2;
    }
  }
  for (std::size_t i = 0; i < genes.size(); ++i) {
    genes[i] *= mendelian_[i];
    for (const Node parent : {parents_[i].sire, parents_[i].dam}) {
      if (parent != kUnknown) genes[i] += genes[parent] / 2;
    }
  }
  std::vector<double> kinships(size());
  for (std::size_t i = 0; i < kinships.size(); ++i) kinships[i] = genes[place_[i]] / 2;
  return kinships;
}

}  // namespace broodpact::kinship
