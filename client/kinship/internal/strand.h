#pragma once

// How genes come to one breeder: from whom, which part, and how much is its own chance.
//
// A pedigree is computed over places: nobody has place 0, then come all who have offspring, parents
// before their offspring. An unknown parent is nobody, so that no pass has to ask. Everything is
// one linear model, A = T D T' (Henderson, Biometrics 32 (1976) 69-83): animals take one half from
// each parent, stand-ins for several sires their weights, related founders all that they share from
// a base that stands for their common ancestors.

#include "client/kinship/parents.h"

namespace broodpact::kinship {

inline constexpr Node kNobody = 0;

struct Strand {
  Node first = kNobody;
  Node second = kNobody;
  double first_part = 0.5;
  double second_part = 0.5;
  double own = 0;  // variance that is not of the two: 1 for a founder, 0 for nobody
};

// A part of the genes of some animals that is at a place.
struct Part {
  Node place = kNobody;
  double part = 0;
};

}  // namespace broodpact::kinship
