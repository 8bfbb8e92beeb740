#include "client/kinship/internal/ancestor_walk.h"

namespace broodpact::kinship {

void AncestorWalk::Add(Node ancestor, const Genes& genes) {
  if (ancestor == kNobody) return;
  Genes& sum = genes_[ancestor];
  // Parts of genes are never negative: what is above zero once stays so until it is visited.
  if (genes.of_first > 0 && sum.of_first == 0) ++left_of_first_;
  if (genes.of_second > 0 && sum.of_second == 0) ++left_of_second_;
  sum.of_first += genes.of_first;
  sum.of_second += genes.of_second;
  frontier_.Add(ancestor);
}

double AncestorWalk::Relationship(std::span<const Part> first, std::span<const Part> second,
                                  std::span<const Strand> strands) {
  for (const Part& part : first) Add(part.place, {.of_first = part.part});
  for (const Part& part : second) Add(part.place, {.of_second = part.part});
  double relationship = 0;
  while (left_of_first_ > 0 && left_of_second_ > 0) {
    const Node ancestor = frontier_.TakeHighest();
    const Genes genes = genes_[ancestor];
    genes_[ancestor] = {};
    if (genes.of_first > 0) --left_of_first_;
    if (genes.of_second > 0) --left_of_second_;
    const Strand& strand = strands[ancestor];
    relationship += genes.of_first * genes.of_second * strand.own;
    Add(strand.first, {.of_first = genes.of_first * strand.first_part,
                       .of_second = genes.of_second * strand.first_part});
    Add(strand.second, {.of_first = genes.of_first * strand.second_part,
                        .of_second = genes.of_second * strand.second_part});
  }
  while (!frontier_.empty()) genes_[frontier_.TakeHighest()] = {};
  left_of_first_ = 0;
  left_of_second_ = 0;
  return relationship;
}

}  // namespace broodpact::kinship
