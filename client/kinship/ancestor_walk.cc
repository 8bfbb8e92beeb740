#include "client/kinship/ancestor_walk.h"

namespace broodpact::kinship {

void AncestorWalk::Add(Node ancestor, const Genes& genes) {
  if (ancestor == kUnknown) return;
  Genes& sum = genes_[ancestor];
  // Parts of genes are never negative: what is above zero once stays so until it is visited.
  if (genes.of_first > 0 && sum.of_first == 0) ++left_of_first_;
  if (genes.of_second > 0 && sum.of_second == 0) ++left_of_second_;
  sum.of_first += genes.of_first;
  sum.of_second += genes.of_second;
  frontier_.Add(ancestor);
}

double AncestorWalk::Kinship(Node first, Node second, std::span<const Parents> parents,
                             std::span<const double> mendelian) {
  Add(first, {.of_first = 1});
  Add(second, {.of_second = 1});
  double relationship = 0;
  while (left_of_first_ > 0 && left_of_second_ > 0) {
    const Node ancestor = frontier_.TakeHighest();
    const Genes genes = genes_[ancestor];
    genes_[ancestor] = {};
    if (genes.of_first > 0) --left_of_first_;
    if (genes.of_second > 0) --left_of_second_;
    relationship += genes.of_first * genes.of_second * mendelian[ancestor];
    const Genes half{.of_first = genes.of_first / 2, .of_second = genes.of_second / 2};
    Add(parents[ancestor].sire, half);
    Add(parents[ancestor].dam, half);
  }
  while (!frontier_.empty()) genes_[frontier_.TakeHighest()] = {};
  left_of_first_ = 0;
  left_of_second_ = 0;
  return relationship / 2;
}

}  // namespace broodpact::kinship
