#pragma once

// Relationship of two from the ancestors that they share.
//
// Method: Meuwissen & Luo (1992), with one sum for each of the two instead of one for their
// offspring (Quaas, "Computing the diagonal elements and inverse of a large numerator relationship
// matrix", Biometrics 32 (1976) 949-953, for the sums): the walk goes from the youngest ancestor to
// the oldest, and ends as soon as one of the two has no ancestor left to visit.

#include <cstddef>
#include <span>
#include <vector>

#include "client/kinship/internal/frontier.h"
#include "client/kinship/internal/strand.h"

namespace broodpact::kinship {

// Memory for walks over the first places of a pedigree; as good as new after each walk.
class AncestorWalk {
 public:
  // For places below `places`.
  explicit AncestorWalk(std::size_t places) : genes_(places), frontier_(places) {}

  // The relationship of two, twice their kinship. Each is given as the places that its genes are
  // from. `strands` are known up to the highest of them at least.
  double Relationship(std::span<const Part> first, std::span<const Part> second,
                      std::span<const Strand> strands);

 private:
  // Expected part of the genes of each of the two that passed through an ancestor.
  struct Genes {
    double of_first = 0;
    double of_second = 0;
  };

  void Add(Node ancestor, const Genes& genes);

  std::vector<Genes> genes_;  // by place; zeros outside the frontier
  Frontier frontier_;
  std::size_t left_of_first_ = 0;   // ancestors in the frontier with genes of the first
  std::size_t left_of_second_ = 0;  // and of the second
};

}  // namespace broodpact::kinship
