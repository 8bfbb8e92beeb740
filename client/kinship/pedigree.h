#pragma once

// Who is kin: inbreeding and kinship from a pedigree, as probabilities of identity by descent.
//
// Kinship of two animals is the chance that a gene drawn from each is a copy of one and the same
// ancestral gene (Malecot, 1948); the inbreeding of an animal is the kinship of its parents
// (Wright, 1922). Unknown parents are taken as unrelated founders: the numbers are lower bounds.
//
// Methods: inbreeding by Meuwissen & Luo, "Computing inbreeding coefficients in large
// populations", Genet. Sel. Evol. 24 (1992) 305-313; one against all by Colleau, "An indirect
// approach to the extensive calculation of relationship coefficients", Genet. Sel. Evol. 34 (2002)
// 409-421.
//
// Pure. Floating point: nothing that replicas must agree on may depend on it.

#include <cstddef>
#include <vector>

#include "absl/status/statusor.h"

#include "client/kinship/parents.h"

namespace broodpact::kinship {

// A pedigree of n animals, numbered 0 .. n-1 as given, in whatever order. Unchanging once made, so
// that threads may share it.
class Pedigree {
 public:
  // Fewer than kUnknown animals. An animal whose sire is its dam counts as selfed.
  //
  // Full sibs are computed once. Time is at worst proportional to the sum over all pairs of parents
  // of the ancestors that they have.
  //
  // Errors: INVALID_ARGUMENT with reason PARENT_UNKNOWN (a number past the end) or PEDIGREE_CYCLE
  // (an animal is its own ancestor; the message names one by its number).
  static absl::StatusOr<Pedigree> Of(std::vector<Parents> animals);

  std::size_t size() const { return inbreeding_.size(); }

  // 0 .. 1. `animal` < size().
  double Inbreeding(Node animal) const { return inbreeding_[animal]; }

  // 0 .. 1; of an animal with itself: (1 + its inbreeding) / 2. Both are < size(). Visits their
  // ancestors only, but takes memory in proportion to size(): for one against many, KinshipWithAll
  // is cheaper from a handful on.
  double Kinship(Node first, Node second) const;

  // Kinship of one with each of all, in their order. `animal` < size(). O(size).
  std::vector<double> KinshipWithAll(Node animal) const;

 private:
  Pedigree() = default;

  std::vector<Parents> parents_;    // by place, as places: parents stand before their offspring
  std::vector<Node> place_;         // number as given -> place
  std::vector<double> inbreeding_;  // by number as given
  std::vector<double> mendelian_;   // variance of Mendelian sampling, by place
};

}  // namespace broodpact::kinship
