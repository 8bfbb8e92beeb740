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

#include <cstdint>
#include <span>
#include <vector>

#include "absl/status/statusor.h"

namespace broodpact::kinship {

// A place in a pedigree. kUnknown where a parent is not known.
using Node = std::uint32_t;
inline constexpr Node kUnknown = 0xFFFF'FFFF;

struct Parents {
  Node sire = kUnknown;
  Node dam = kUnknown;
};

// A pedigree of n animals, numbered 0 .. n-1 as given, in whatever order.
class Pedigree {
 public:
  // Errors: INVALID_ARGUMENT with reason PARENT_UNKNOWN (a number past the end) or PEDIGREE_CYCLE
  // (an animal is its own ancestor; the message names one by its number).
  static absl::StatusOr<Pedigree> Of(std::vector<Parents> animals);

  std::size_t size() const { return inbreeding_.size(); }

  // 0 .. 1. `animal` < size().
  double Inbreeding(Node animal) const { return inbreeding_[animal]; }

  // 0 .. 1; of an animal with itself: (1 + its inbreeding) / 2.
  double Kinship(Node first, Node second) const;

  // Kinship of one with each of all, in their order. O(size).
  std::vector<double> KinshipWithAll(Node animal) const;

 private:
  Pedigree() = default;

  std::vector<Parents> parents_;    // by number in order of generation
  std::vector<Node> place_;         // number as given -> place in order
  std::vector<double> inbreeding_;  // by number as given
  std::vector<double> mendelian_;   // variance of Mendelian sampling, by place in order
};

}  // namespace broodpact::kinship
